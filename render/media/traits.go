package media

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
)

// Traits are what a capture's container says of it, as tagged and without
// anything assumed; "" where it says nothing.
type Traits struct {
	Range, Matrix, Primaries, Transfer string // in ffmpeg's words
	Channels                           int    // of the first sound; 0: there is none
	SampleRate                         int    // of the first sound, in hertz
}

// Traits reads a capture's tags. It costs one run of ffprobe and decodes nothing
// of note.
func (t *Tools) Traits(ctx context.Context, path string) (Traits, error) {
	var out strings.Builder
	err := t.run(ctx, process{
		program: t.FFprobe, stdout: readAllInto(&out), what: fmt.Sprintf("media: %s cannot be opened as a video", path),
		args: append(append([]string{"-hide_banner", "-v", "level+error"}, guard()...),
			"-print_format", "json", "-show_entries",
			"stream=codec_type,color_range,color_space,color_primaries,color_transfer,channels,sample_rate:stream_disposition=attached_pic", fileURL(path)),
	})
	if err != nil {
		return Traits{}, err
	}
	var p struct {
		Streams []struct {
			Type        string         `json:"codec_type"`
			Range       string         `json:"color_range"`
			Matrix      string         `json:"color_space"`
			Primaries   string         `json:"color_primaries"`
			Transfer    string         `json:"color_transfer"`
			Channels    int            `json:"channels"`
			SampleRate  int            `json:"sample_rate,string"`
			Disposition map[string]int `json:"disposition"`
		} `json:"streams"`
	}
	if err := json.Unmarshal([]byte(out.String()), &p); err != nil {
		return Traits{}, fmt.Errorf("media: ffprobe on %s: %w", path, err)
	}
	var c Traits
	video := false
	for _, s := range p.Streams {
		switch {
		case s.Type == "video" && !video && s.Disposition["attached_pic"] == 0:
			video = true
			c.Range, c.Matrix, c.Primaries, c.Transfer = said(s.Range), said(s.Matrix), said(s.Primaries), said(s.Transfer)
		case s.Type == "audio" && c.Channels == 0:
			c.Channels, c.SampleRate = s.Channels, s.SampleRate
		}
	}
	return c, nil
}

// said returns a tag, "" for the words that stand for none.
func said(tag string) string {
	switch tag {
	case "unknown", "unspecified", "reserved":
		return ""
	}
	return tag
}
