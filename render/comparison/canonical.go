package comparison

import (
	"encoding/json"
	"image"

	"fairframe/render/pacing"
)

// Canonical returns everything in f that can change the clip of that scene, as
// JSON of a stable form: equal bytes, equal settings. Paths are as written.
// It has nothing from outside f, such as the content of captures, logs and font files.
// It also lacks what changes no clip: the folder, the title unless a page shows it, the
// scene's line, and captures and scenes that the scene does not use.
func (f *File) Canonical(scene *Scene) []byte {
	text, err := json.Marshal(f.form(scene))
	if err != nil {
		panic(err) // the types below hold nothing that JSON lacks
	}
	return text
}

// form is what Canonical and Settings print: what its structs promote, in their order. A
// field's tag names its setting where that is not simply the field's name, and marks
// paths.
func (f *File) form(scene *Scene) any {
	type capture struct {
		Key, Name, Detail string
		Raster            image.Point
		Video             string            `path:"true"`
		Log               string            `setting:"pacing.file" path:"true"`
		Format            pacing.Format     `setting:"pacing"`
		Measure           bool              `setting:"pacing.measure"`
		Region            image.Rectangle   `setting:"pacing.region"`
		Ignore            []image.Rectangle `setting:"pacing.ignore"`
		Tears             string            `setting:"pacing.tears"`
		Start             string
		Window            Window
	}
	// ID, Captures and Marks hide those of Scene. A clip's fingerprint depends on their order.
	form := struct {
		Output   `setting:"output"`
		Fonts    [2]string `path:"true"`
		ID       string
		Captures []capture
		Scene
		Marks   []Mark
		Heading string // what the title page is headed by
	}{Output: f.Output, Fonts: [2]string{f.Fonts.text, f.Fonts.bold}, ID: scene.ID, Scene: *scene,
		Marks: scene.Marks}
	if scene.Title > 0 {
		form.Heading = f.Title
	}
	for _, key := range scene.Captures {
		c, _ := f.Capture(key)
		form.Captures = append(form.Captures, capture{
			Key: key, Name: c.Name, Detail: c.Detail, Raster: c.Raster, Video: c.video,
			Log: c.Pacing.file, Format: c.Pacing.Format, Measure: c.Pacing.Measure, Region: c.Pacing.Region,
			Ignore: c.Pacing.Ignore, Tears: c.Pacing.Tears,
			Start: scene.Start[key].canonical(), Window: scene.Window[key],
		})
	}
	return form
}

// MarshalJSON writes the fields in an order of its own, on which the fingerprints of clips
// depend.
func (d Deck) MarshalJSON() ([]byte, error) {
	type deck Deck
	return json.Marshal(struct {
		Place string
		Tabs  bool
		deck
	}{d.Place, d.Tabs, deck(d)})
}
