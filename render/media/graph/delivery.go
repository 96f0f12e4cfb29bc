package graph

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fairframe/render/pacing"
)

// Delivery is a named encoding recipe, with all choices made.
type Delivery struct {
	Name     string
	Ext      string   // of the file, with the dot; "" when it is a folder of pictures
	Warnings []string // what was ordered to no effect

	Variant  Variant
	Transfer string // of HDR that was ordered, in ffmpeg's words; "": that of the captures
	Encoder  Encoder
	Quality  int // index of Qualities
	Effort   int // index of Efforts
	Options  []string
}

// Variant is one form of a delivery: a container, and the encoders that may
// fill it, of which the first is the one that does unless another is ordered.
type Variant struct {
	Codec       string // the word for it in an order
	Ext         string
	Format      string   // ffmpeg's muxer
	Muxer       []string // its options
	Sound       []string // options of the sound; nil: the delivery is silent
	Encoders    []Encoder
	OverlayOnly bool // nothing but what is drawn, over nothing
	Hdr         bool // the picture is of high dynamic range
}

// Silent reports whether the delivery carries no sound.
func (d Delivery) Silent() bool { return d.Variant.Sound == nil }

// SoundArgs are the options of the sound: the delivery's own, and those of the user
// that steer its coder. Only they may go where there is no picture.
func (d Delivery) SoundArgs() []string {
	args := slices.Clone(d.Variant.Sound)
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
	return !d.Silent() && !slices.ContainsFunc(d.Variant.Sound, func(a string) bool { return a == "flac" || strings.HasPrefix(a, "pcm_") })
}

// OverlayOnly reports whether the delivery shows what is drawn alone, over nothing.
func (d Delivery) OverlayOnly() bool { return d.Variant.OverlayOnly }

// HDR reports whether the pictures are of high dynamic range.
func (d Delivery) HDR() bool { return d.Variant.Hdr }

// Folder reports whether the delivery is a folder of numbered pictures.
func (d Delivery) Folder() bool { return d.Variant.Format == "image2" }

// EncoderName is ffmpeg's name of the encoder.
func (d Delivery) EncoderName() string { return d.Encoder.Name }

// rgb reports whether the pictures are delivered as R'G'B'.
func (d Delivery) rgb() bool { return d.Encoder.Rgb != "" }

// VideoArgs are the encoder's arguments, for a clip of that rate.
func (d Delivery) VideoArgs(r pacing.Rate) []string {
	e := d.Encoder
	args := append([]string{"-c:v", e.Name}, e.Fixed...)
	if e.Keyframes {
		// One in two seconds: players seek to it, platforms cut at it.
		args = append(args, "-g", fmt.Sprint(int(2*r.Hz()+0.5)))
	}
	return slices.Concat(args, e.Quality[d.Quality], e.Effort[d.Effort])
}

// Encoders returns the names of the encoders that a delivery needs.
func (d Delivery) Encoders() []string {
	list := []string{d.Encoder.Name}
	for i := range len(d.Variant.Sound) {
		if d.Variant.Sound[i] == "-c:a" {
			list = append(list, d.Variant.Sound[i+1])
		}
	}
	return list
}

// Encoder is one of ffmpeg's, with what the words for quality and effort mean on
// its own scale. The scales are no science: the numbers of quality are those at
// which the trade calls a codec's pictures visually lossless, good, and small
// (common practice), for pictures that are compared side by side.
type Encoder struct {
	Name      string // ffmpeg's
	Codec     string // what it makes, in ffprobe's words
	Pixels    string // the pixel format that it is given
	Seen      string // the pixel format that ffprobe sees; "": pixels
	Fixed     []string
	Keyframes bool // their distance is set
	Quality   [3][]string
	Effort    [3][]string
	Hardware  bool
	Upload    bool   // pictures are sent to the device before they are encoded
	Rgb       string // the R'G'B' format that pictures are turned into; "": none
}

// Finished are the pixel formats that ffprobe may see in what it made.
func (e Encoder) Finished(quality int) string {
	if e.Seen != "" {
		return e.Seen
	}
	return e.Given(quality)
}

// Given is the pixel format that the encoder takes at a quality: DNxHR codes
// 10 bits at its best one alone.
func (e Encoder) Given(quality int) string {
	if e.Codec == "dnxhd" && quality > 0 {
		return "yuv422p"
	}
	return e.Pixels
}

func (e Encoder) HasQuality() bool { return e.Quality[0] != nil }

func (e Encoder) HasEffort() bool { return e.Effort[0] != nil }

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
func (d Delivery) HasTags() bool { return HasTags(d.Variant.Format) }
