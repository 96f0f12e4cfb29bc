package comparison

import "encoding/json"

// Canonical returns everything in f that can change the clip of that scene, as
// JSON of a stable form: equal bytes, equal settings. Paths stand as they were
// written. What is outside f (the content of the captures, logs and fonts) is
// not in it, nor is what changes no clip: the title, the folder, the scene's
// line.
func (f *File) Canonical(scene *Scene) []byte {
	type source struct{ File string }
	type capture struct {
		Key, Name, Detail string
		Raster            [2]int
		Video             string
		Pacing            source
		Start             string
		Window            Window
	}
	form := struct {
		Size           [2]int
		Rate, Delivery string
		Fonts          [3]string
		Captures       []capture
		ID             string
		Length         int64 // ns
		View           string
		Deck           Deck
		Caption, Audio string
	}{
		Size: [2]int{f.Output.Size.X, f.Output.Size.Y}, Rate: f.Output.Rate.String(), Delivery: f.Output.Delivery,
		Fonts: [3]string{f.Fonts.text, f.Fonts.bold, f.Fonts.digits},
		ID:    scene.ID, Length: int64(scene.Length), View: scene.View, Deck: scene.Deck, Caption: scene.Caption, Audio: scene.Audio,
	}
	for _, key := range scene.Captures {
		c, _ := f.Capture(key)
		form.Captures = append(form.Captures, capture{
			Key: key, Name: c.Name, Detail: c.Detail, Raster: [2]int{c.Raster.X, c.Raster.Y}, Video: c.video,
			Pacing: source{File: c.Pacing.file}, Start: scene.Start[key].canonical(), Window: scene.Window[key],
		})
	}
	text, err := json.Marshal(form)
	if err != nil {
		panic(err) // no value above can fail
	}
	return text
}
