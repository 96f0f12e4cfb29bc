package media

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fairframe/render/pacing"
)

// Delivery is a named encoding recipe.
type Delivery struct {
	Name   string
	Ext    string // of the file, with the dot
	format string // ffmpeg's muxer
	video  func(pacing.Rate) []string
	audio  []string
}

// Deliveries returns the recipes by name.
func Deliveries() map[string]Delivery {
	return map[string]Delivery{
		// For a video platform, which encodes again: close to visually lossless,
		// plays everywhere, quick to make.
		"web": {Name: "web", Ext: ".mp4", format: "mp4",
			video: func(r pacing.Rate) []string {
				return []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", "16", "-profile:v", "high",
					"-g", strconv.Itoa(int(2*r.Hz() + 0.5)), "-movflags", "+faststart"}
			},
			audio: []string{"-c:a", "aac", "-b:a", "256k"}},
		// For archives and for proof: what was composed, bit by bit.
		"lossless": {Name: "lossless", Ext: ".mkv", format: "matroska",
			video: func(pacing.Rate) []string {
				return []string{"-c:v", "ffv1", "-level", "3", "-coder", "1", "-context", "0", "-g", "1", "-slices", "4", "-slicecrc", "1"}
			},
			audio: []string{"-c:a", "flac"}},
	}
}

// DeliveryOf returns the recipe of that name.
func DeliveryOf(name string) (Delivery, error) {
	d, ok := Deliveries()[name]
	if !ok {
		return Delivery{}, fmt.Errorf("media: no delivery %q", name)
	}
	return d, nil
}

// lossy reports whether the sound that comes out is not that which went in.
func (d Delivery) lossy() bool {
	return !slices.ContainsFunc(d.audio, func(a string) bool { return a == "flac" || strings.HasPrefix(a, "pcm_") })
}

// output are the arguments of a clip's output, between its graph and its name.
func (c *Clip) output() []string {
	args := []string{"-frames:v", strconv.FormatInt(c.Total(), 10), "-fps_mode", "passthrough", "-pix_fmt", "yuv420p"}
	args = append(args, c.Delivery.video(c.Rate)...)
	args = append(args, "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv")
	if c.Sound.heard() {
		args = append(args, c.Delivery.audio...)
	}
	// Nothing of the captures' own tags or chapters leaks into the clip, and no
	// date or version makes two runs differ.
	args = append(args, c.tags()...)
	return append(args, "-map_metadata", "-1", "-map_chapters", "-1", "-fflags", "+bitexact",
		"-flags:v", "+bitexact", "-flags:a", "+bitexact", "-f", c.Delivery.format)
}
