package comparison

import (
	"encoding/json"
	"image"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// Canonical returns everything in f that can change the clip of that scene, as
// JSON of a stable form: equal bytes, equal settings. Paths stand as they were
// written. What is outside f (the content of captures, logs and font files) is
// not in it, nor is what changes no clip: folder, the title unless a page shows it,
// the scene's line, and captures and scenes that have no part in it.
func (f *File) Canonical(scene *Scene) []byte {
	text, err := json.Marshal(f.form(scene))
	if err != nil {
		panic(err) // the types below hold nothing that JSON lacks
	}
	return text
}

// form is what Canonical and Settings print. A field's tag names its setting
// where that is not simply the field's name, and marks paths.
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
	form := struct {
		Size           image.Point `setting:"output.size"`
		Rate           pacing.Rate `setting:"output.rate"`
		Delivery       string      `setting:"output.delivery"`
		Codec          string      `setting:"output.codec"`
		Transfer       string      `setting:"output.transfer"`
		Encoder        string      `setting:"output.encoder"`
		Quality        string      `setting:"output.quality"`
		Effort         string      `setting:"output.effort"`
		FFmpeg         []string    `setting:"output.ffmpeg"`
		Fonts          [2]string   `path:"true"`
		ID             string
		Captures       []capture
		Length         time.Duration
		Speed          Ratio
		Hold           []Hold
		View           string
		Single         string
		Inset          Inset
		Wipe           Wipe
		Alternate      Alternate
		Difference     Difference
		Deck           Deck
		Caption, Audio string
		Loudness       float64
		Tolerate       string
		Still          string
		Timecode       string
		Title, Summary time.Duration
		Marks          []Mark
		Heading        string // what the title page is headed by
	}{
		Size: f.Output.Size, Rate: f.Output.Rate, Delivery: f.Output.Delivery,
		Codec: f.Output.Codec, Transfer: f.Output.Transfer, Encoder: f.Output.Encoder,
		Quality: f.Output.Quality, Effort: f.Output.Effort, FFmpeg: f.Output.FFmpeg,
		Fonts: [2]string{f.Fonts.text, f.Fonts.bold},
		ID:    scene.ID, Length: scene.Length, Speed: scene.Speed, Hold: scene.Hold, View: scene.View,
		Single: scene.Single, Inset: scene.Inset, Wipe: scene.Wipe, Alternate: scene.Alternate,
		Difference: scene.Difference, Deck: scene.Deck, Caption: scene.Caption, Audio: scene.Audio,
		Loudness: scene.Loudness,
		Tolerate: strings.Join(scene.Tolerate, ", "), Still: scene.Still, Timecode: scene.Timecode,
		Title: scene.Title, Summary: scene.Summary, Marks: scene.Marks,
	}
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
