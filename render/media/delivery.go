package media

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"fairframe/render/pacing"
)

// DeliverySpec says which delivery is wanted, and how it is to be made. An empty field
// leaves the choice to the delivery.
type DeliverySpec struct {
	Delivery string   // one of Deliveries
	Codec    string   // where the delivery leaves a choice: overlay's prores, ffv1, vp9 or png
	Encoder  string   // ffmpeg's name of the encoder, such as a graphics card's
	Quality  string   // one of Qualities
	Effort   string   // one of Efforts
	Transfer string   // of hdr: one of Transfers; "": that of the captures
	Options  []string // further output options of ffmpeg, name and value in turns; see options.go
}

// DeliveryError is an order that cannot be met.
type DeliveryError struct {
	Key  string // of the comparison file, within output
	Msg  string // begins with the key
	Hint string
}

// Error returns the message.
func (e *DeliveryError) Error() string { return "media: " + e.Msg }

// Hints returns what to do about it.
func (e *DeliveryError) Hints() []string { return []string{e.Hint} }

// Delivery is a named encoding recipe, with all choices made.
type Delivery struct {
	Name     string
	Ext      string   // of the file, with the dot; "" when it is a folder of pictures
	Warnings []string // what was ordered to no effect

	variant  variant
	transfer string // of HDR that was ordered, in ffmpeg's words; "": that of the captures
	encoder  encoder
	quality  int // index of Qualities
	effort   int // index of Efforts
	options  []string
}

// Qualities are the words for quality, the best first. What they stand for on
// an encoder's own scale is in encoders.go.
func Qualities() []string { return []string{"visually-lossless", "high", "small"} }

// Transfers are the words for how an HDR clip codes light (ITU-R BT.2100).
func Transfers() []string { return []string{"pq", "hlg"} }

// Efforts are the words for how much work an encoder spends on a small file.
func Efforts() []string { return []string{"quick", "normal", "thorough"} }

const normalEffort = 1

// variant is one form of a delivery: a container, and the encoders that may
// fill it, of which the first is the one that does unless another is ordered.
type variant struct {
	codec       string // the word for it in an order
	ext         string
	format      string   // ffmpeg's muxer
	muxer       []string // its options
	sound       []string // options of the sound; nil: the delivery is silent
	encoders    []encoder
	overlayOnly bool // nothing but what is drawn, over nothing
	hdr         bool // the picture is of high dynamic range
}

// recipe is a delivery and its variants, the default one first.
type recipe struct {
	name     string
	variants []variant
}

// recipes are all deliveries.
func recipes() []recipe {
	web := []string{"-movflags", "+faststart"}
	aac := []string{"-c:a", "aac", "-b:a", "256k"}
	pcm := []string{"-c:a", "pcm_s24le"}
	return []recipe{
		// For a video platform, which encodes again: close to visually lossless,
		// plays everywhere, quick to make.
		{"web", []variant{{codec: "h264", ext: ".mp4", format: "mp4", muxer: web, sound: aac, encoders: append([]encoder{x264()}, hardware("h264")...)}}},
		{"hevc", []variant{{codec: "hevc", ext: ".mp4", format: "mp4", muxer: web, sound: aac, encoders: append([]encoder{x265()}, hardware("hevc")...)}}},
		{"av1", []variant{{codec: "av1", ext: ".mp4", format: "mp4", muxer: web, sound: aac, encoders: append([]encoder{svtAV1()}, hardware("av1")...)}}},
		{"hdr", []variant{{codec: "hevc", ext: ".mp4", format: "mp4", muxer: web, sound: aac, encoders: []encoder{x265Main10()}, hdr: true}}},
		// For editing.
		{"edit", []variant{{codec: "prores", ext: ".mov", format: "mov", muxer: web, sound: pcm, encoders: []encoder{proRes422()}}}},
		{"dnxhr", []variant{{codec: "dnxhr", ext: ".mov", format: "mov", muxer: web, sound: pcm, encoders: []encoder{dnxHR()}}}},
		// For archives and for proof: what was composed, bit by bit.
		{"lossless", []variant{{codec: "ffv1", ext: ".mkv", format: "matroska", sound: []string{"-c:a", "flac"}, encoders: []encoder{ffv1("yuv420p")}}}},
		{"overlay", []variant{
			{codec: "prores", ext: ".mov", format: "mov", muxer: web, encoders: []encoder{proRes4444()}, overlayOnly: true},
			{codec: "ffv1", ext: ".mkv", format: "matroska", encoders: []encoder{ffv1("yuva420p")}, overlayOnly: true},
			{codec: "vp9", ext: ".webm", format: "webm", encoders: []encoder{vp9Alpha()}, overlayOnly: true},
			{codec: "png", format: "image2", encoders: []encoder{pngAlpha()}, overlayOnly: true},
		}},
		// For articles: they play by themselves, without sound, and begin again.
		{"gif", []variant{{codec: "gif", ext: ".gif", format: "gif", muxer: []string{"-loop", "0"}, encoders: []encoder{gifLoop()}}}},
		{"webp", []variant{{codec: "webp", ext: ".webp", format: "webp", muxer: []string{"-loop", "0"}, encoders: []encoder{webpLoop()}}}},
	}
}

// Deliveries returns the names of all deliveries.
func Deliveries() []string {
	var names []string
	for _, r := range recipes() {
		names = append(names, r.name)
	}
	return names
}

// DeliveryOf returns the delivery of that name, as it is without further wishes.
func DeliveryOf(name string) (Delivery, error) { return Deliver(DeliverySpec{Delivery: name}) }

// Deliver turns an order into a delivery. Its errors are of type *OrderError.
func Deliver(o DeliverySpec) (Delivery, error) {
	i := slices.IndexFunc(recipes(), func(r recipe) bool { return r.name == o.Delivery })
	if i < 0 {
		return Delivery{}, &DeliveryError{"delivery", fmt.Sprintf("delivery: unknown value %q", o.Delivery), "valid values: " + strings.Join(Deliveries(), ", ")}
	}
	variants := recipes()[i].variants
	v := variants[0]
	if o.Codec != "" {
		var codecs []string
		for _, one := range variants {
			if codecs = append(codecs, one.codec); one.codec == o.Codec {
				v = one
			}
		}
		if v.codec != o.Codec {
			return Delivery{}, &DeliveryError{"codec", fmt.Sprintf("codec: delivery %s is not made in %s", o.Delivery, o.Codec), "it is made in: " + strings.Join(codecs, ", ")}
		}
	}
	d := Delivery{Name: o.Delivery, Ext: v.ext, variant: v, encoder: v.encoders[0], effort: normalEffort}
	if o.Encoder != "" {
		var names []string
		found := false
		for _, e := range v.encoders {
			if names = append(names, e.name); e.name == o.Encoder {
				d.encoder, found = e, true
			}
		}
		if !found {
			return Delivery{}, &DeliveryError{"encoder", fmt.Sprintf("encoder: delivery %s is not made by %s", o.Delivery, o.Encoder), "it is made by: " + strings.Join(names, ", ")}
		}
	}
	var err error
	if d.quality, err = choice("quality", o.Quality, Qualities(), 0); err != nil {
		return Delivery{}, err
	}
	if d.effort, err = choice("effort", o.Effort, Efforts(), normalEffort); err != nil {
		return Delivery{}, err
	}
	if o.Transfer != "" {
		i, err := choice("transfer", o.Transfer, Transfers(), 0)
		if err != nil {
			return Delivery{}, err
		}
		if !v.hdr {
			return Delivery{}, &DeliveryError{"transfer", fmt.Sprintf("transfer: delivery %s is not HDR", o.Delivery), "set delivery: hdr, or remove transfer:"}
		}
		d.transfer = []string{pq, hlg}[i]
	}
	if o.Quality != "" && !d.encoder.hasQuality() {
		d.Warnings = append(d.Warnings, fmt.Sprintf("quality: %s makes no difference to delivery %s, which has one quality", o.Quality, d.made()))
	}
	if o.Effort != "" && !d.encoder.hasEffort() {
		d.Warnings = append(d.Warnings, fmt.Sprintf("effort: %s makes no difference to delivery %s, whose encoder knows no effort", o.Effort, d.made()))
	}
	if d.options, err = checkOptions(o.Options); err != nil {
		return Delivery{}, err
	}
	return d, nil
}

// choice finds a word among its kind.
func choice(key, word string, words []string, absent int) (int, error) {
	if word == "" {
		return absent, nil
	}
	if i := slices.Index(words, word); i >= 0 {
		return i, nil
	}
	return 0, &DeliveryError{key, fmt.Sprintf("%s: unknown value %q", key, word), "valid values: " + strings.Join(words, ", ")}
}

// made names the delivery, and its codec where that was a choice.
func (d Delivery) made() string {
	if d.variant.overlayOnly {
		return d.Name + " in " + d.variant.codec
	}
	return d.Name
}

// Silent reports whether the delivery carries no sound.
func (d Delivery) Silent() bool { return d.variant.sound == nil }

// soundArgs are the options of the sound: the delivery's own, and those of the user
// that steer its coder. Only they may go where there is no picture.
func (d Delivery) soundArgs() []string {
	args := slices.Clone(d.variant.sound)
	for i := 0; i+1 < len(d.options); i += 2 {
		name, _, _ := strings.Cut(strings.TrimPrefix(d.options[i], "-"), ":")
		if strings.HasSuffix(d.options[i], ":a") || strings.Contains(d.options[i], ":a:") || d.options[i] == "-"+name && slices.Contains(soundOptions, name) {
			args = append(args, d.options[i], d.options[i+1])
		}
	}
	return args
}

// blame adds to an error of ffmpeg that the user's options may be its cause.
func (d Delivery) blame(err error) error {
	if e := (*Error)(nil); len(d.options) > 0 && errors.As(err, &e) && e.Hint == "" {
		e.Hint = "an option under output: ffmpeg: may be the cause: " + strings.Join(d.options, " ")
	}
	return err
}

// Lossy reports whether there is sound that does not come out as it went in.
func (d Delivery) Lossy() bool {
	return !d.Silent() && !slices.ContainsFunc(d.variant.sound, func(a string) bool { return a == "flac" || strings.HasPrefix(a, "pcm_") })
}

// OverlayOnly reports whether the delivery shows what is drawn alone, over nothing.
func (d Delivery) OverlayOnly() bool { return d.variant.overlayOnly }

// HDR reports whether the pictures are of high dynamic range.
func (d Delivery) HDR() bool { return d.variant.hdr }

// Folder reports whether the delivery is a folder of numbered pictures.
func (d Delivery) Folder() bool { return d.variant.format == "image2" }

// Encoder is ffmpeg's name of the encoder.
func (d Delivery) Encoder() string { return d.encoder.name }

// rgb reports whether the pictures are delivered as R'G'B'.
func (d Delivery) rgb() bool { return d.encoder.rgb != "" }

// videoArgs are the encoder's arguments, for a clip of that rate.
func (d Delivery) videoArgs(r pacing.Rate) []string {
	e := d.encoder
	args := append([]string{"-c:v", e.name}, e.fixed...)
	if e.keyframes {
		// One in two seconds: players seek to it, platforms cut at it.
		args = append(args, "-g", fmt.Sprint(int(2*r.Hz()+0.5)))
	}
	return slices.Concat(args, e.quality[d.quality], e.effort[d.effort])
}
