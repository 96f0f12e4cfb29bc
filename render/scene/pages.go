package scene

import (
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// closingPage is the page of figures after the scene; nil where it has none.
func closingPage(f *Footage, rate pacing.Rate, remarks []string, w *warnings) (*graph.Page, error) {
	s := f.Scene
	if s.Summary == 0 {
		return nil, nil
	}
	settings := deck.PageSettings{Size: f.File.Output.Size, Title: Title(s), Length: s.Length, Fonts: f.Fonts,
		Remarks: remarks}
	figures := FiguresOf(s, f.Takes)
	for i, t := range f.Takes {
		settings.Captures = append(settings.Captures, deck.PageCapture{Name: t.Name, Raster: t.Raster, Base: BaseOf(f.File, t.Key),
			Style: t.Style, Figures: figures[i]})
	}
	page, err := deck.NewPage(settings)
	if err != nil {
		return nil, err
	}
	w.cut(page.Warnings()...)
	return &graph.Page{Frames: rate.FramesIn(s.Summary), Picture: page.YUV()}, nil
}

// titlePage is the page before the scene; nil where it has none.
func titlePage(f *Footage, rate pacing.Rate, w *warnings) (*graph.Page, error) {
	s := f.Scene
	if s.Title == 0 {
		return nil, nil
	}
	settings := deck.TitleSettings{Size: f.File.Output.Size, Title: f.File.Title, Caption: s.Caption,
		Fonts: f.Fonts}
	if settings.Title == "" {
		settings.Title, settings.Caption = Title(s), ""
	}
	for _, t := range f.Takes {
		settings.Captures = append(settings.Captures,
			deck.Capture{Name: t.Name, Detail: t.Detail, Raster: t.Raster, Base: BaseOf(f.File, t.Key), Style: t.Style})
	}
	page, err := deck.NewTitle(settings)
	if err != nil {
		return nil, err
	}
	w.cut(page.Warnings()...)
	return &graph.Page{Frames: rate.FramesIn(s.Title), Picture: page.YUV()}, nil
}

// Title is what heads the pages and stills of a scene.
func Title(s *comparison.Scene) string {
	if s.Caption != "" {
		return s.Caption
	}
	return s.ID
}

// BaseOf is what a capture's raster is compared with.
func BaseOf(f *comparison.File, key string) deck.Base {
	if base := f.PixelBase(); base != nil && base.Key != key {
		return deck.Base{Name: base.Name, Raster: base.Raster}
	}
	return deck.Base{}
}
