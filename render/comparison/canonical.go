package comparison

import (
	"encoding/json"
	"image"

	"fairframe/render/pacing"
)

// Canonical returns everything in f that can change the clip of that scene, as
// JSON of a stable form: equal bytes, equal settings. Paths stand as they were
// written. What is outside f (the content of captures, logs and font files) is
// not in it, nor is what changes no clip: title, folder, the scene's line, and
// captures and scenes that have no part in it.
func (f *File) Canonical(scene *Scene) []byte {
	type capture struct {
		Key, Name, Detail string
		Raster            image.Point
		Video             string
		Log               string
		Format            pacing.Format
		Measure           bool
		Region            image.Rectangle
		Ignore            []image.Rectangle
		Start             string
		Window            Window
	}
	form := struct {
		Size           image.Point
		Rate           pacing.Rate
		Delivery       string
		Fonts          [2]string
		ID             string
		Captures       []capture
		Length         int64 // ns
		View           string
		Deck           Deck
		Caption, Audio string
		Summary        int64 // ns
	}{
		Size: f.Output.Size, Rate: f.Output.Rate, Delivery: f.Output.Delivery,
		Fonts: [2]string{f.Fonts.text, f.Fonts.bold},
		ID:    scene.ID, Length: int64(scene.Length), View: scene.View,
		Deck: scene.Deck, Caption: scene.Caption, Audio: scene.Audio, Summary: int64(scene.Summary),
	}
	for _, key := range scene.Captures {
		c, _ := f.Capture(key)
		form.Captures = append(form.Captures, capture{
			Key: key, Name: c.Name, Detail: c.Detail, Raster: c.Raster, Video: c.video,
			Log: c.Pacing.file, Format: c.Pacing.Format, Measure: c.Pacing.Measure, Region: c.Pacing.Region, Ignore: c.Pacing.Ignore,
			Start: scene.Start[key].canonical(), Window: scene.Window[key],
		})
	}
	text, err := json.Marshal(form)
	if err != nil {
		panic(err) // the types above hold nothing that JSON lacks
	}
	return text
}
