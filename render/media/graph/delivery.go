package graph

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fairframe/render/finding"
	"fairframe/render/pacing"
)

// Delivery says how a clip is encoded, with all choices made. Package deliver makes
// it; see its Choose.
type Delivery struct {
	Name        string
	Ext         string            // of the file, with the dot; "" when it is a folder of pictures
	Warnings    []finding.Finding // what was ordered to no effect
	Format      string            // ffmpeg's muxer
	Muxer       []string          // its options
	Sound       []string          // options of the sound; nil: the delivery is silent
	OverlayOnly bool              // it shows nothing but what is drawn, over nothing
	HDR         bool              // the picture is of high dynamic range
	Transfer    string            // of HDR that was ordered, in ffmpeg's words; "": that of the captures
	Encoder     Encoder
	Fallback    *Encoder // what takes its place where it does not work; nil: it is ffmpeg's own
	Options     []string // further ones of the user
}

// Encoder is one of ffmpeg's, with its arguments.
type Encoder struct {
	Name      string // ffmpeg's
	Codec     string // what it makes, in ffprobe's words
	Pixels    string // the pixel format that it is given
	Seen      string // the pixel formats that ffprobe may see in what it made
	Args      []string
	Keyframes bool     // their distance is set, after Args
	Tuning    []string // arguments of quality and effort
	Colours   int      // of each frame's palette; 0: there is none
	Upload    bool     // pictures are sent to the device before they are encoded
	RGB       string   // the R'G'B' format that pictures are turned into; "": none
}

// Silent reports whether the delivery carries no sound.
func (d Delivery) Silent() bool { return d.Sound == nil }

// SoundArgs are the options of the sound: the delivery's own, and those of the user
// that steer its coder. Only they may go where there is no picture.
func (d Delivery) SoundArgs() []string {
	args := slices.Clone(d.Sound)
	for i := 0; i+1 < len(d.Options); i += 2 {
		name, _, _ := strings.Cut(strings.TrimPrefix(d.Options[i], "-"), ":")
		if strings.HasSuffix(d.Options[i], ":a") || strings.Contains(d.Options[i], ":a:") || d.Options[i] == "-"+name && slices.Contains(soundOptions, name) {
			args = append(args, d.Options[i], d.Options[i+1])
		}
	}
	return args
}

// Lossy reports whether there is sound that does not come out as it went in.
func (d Delivery) Lossy() bool {
	return !d.Silent() && !slices.ContainsFunc(d.Sound, func(a string) bool { return a == "flac" || strings.HasPrefix(a, "pcm_") })
}

// Folder reports whether the delivery is a folder of numbered pictures.
func (d Delivery) Folder() bool { return d.Format == "image2" }

// VideoArgs are the encoder's arguments, for a clip of that rate.
func (d Delivery) VideoArgs(r pacing.Rate) []string {
	e := d.Encoder
	args := append([]string{"-c:v", e.Name}, e.Args...)
	if e.Keyframes {
		// One in two seconds: players seek to it, platforms cut at it.
		args = append(args, "-g", fmt.Sprint(int(2*r.Hz()+0.5)))
	}
	return append(args, e.Tuning...)
}

// Encoders returns the names of the encoders that a delivery needs.
func (d Delivery) Encoders() []string {
	list := []string{d.Encoder.Name}
	if i := slices.Index(d.Sound, "-c:a"); i >= 0 {
		list = append(list, d.Sound[i+1])
	}
	return list
}

// fastest is the highest frame rate that a loop is shown at everywhere. A GIF's
// frames last whole hundredths of a second, and browsers show those of one
// hundredth for ten (common practice); a WebP's last whole milliseconds, and
// those of ten or less fare the same.
func (d Delivery) fastest() float64 {
	switch d.Name {
	case "gif":
		return 50
	case "webp":
		return 60
	}
	return math.Inf(1)
}

// Rate returns the frame rate of a clip of this delivery where r is asked for,
// and a warning if that is another: of a rate that the delivery cannot show,
// every second, third … frame, so that the cadence stays even.
func (d Delivery) Rate(r pacing.Rate) (pacing.Rate, string) {
	n := int64(math.Ceil(r.Hz()/d.fastest() - 1e-9))
	if n <= 1 {
		return r, ""
	}
	slower, err := pacing.NewRate(r.Num, r.Den*n)
	if err != nil {
		return r, ""
	}
	return slower, fmt.Sprintf("delivery %s is shown at no more than %g frames a second everywhere; the clip has %s instead of %s, and so not every frame of its captures",
		d.Name, d.fastest(), slower, r)
}

// soundOptions are those of them that also reach the sound's coder where they do
// not say which stream they are for.
var soundOptions = strings.Fields(`q qscale global_quality vbr cutoff aac_coder compression_level profile`)

// HasTags reports whether a muxer writes tags that are a program's own: the
// record and the time code.
func HasTags(format string) bool {
	switch format {
	case "mp4", "mov", "matroska", "webm":
		return true
	}
	return false
}

// HasTags reports whether clips of this delivery can carry a record and a time
// code.
func (d Delivery) HasTags() bool { return HasTags(d.Format) }
