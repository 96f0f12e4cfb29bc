package deliver

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
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
	codec       string // the word for it in a specification
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
func DeliveryOf(name string) (graph.Delivery, error) { return Choose(DeliverySpec{Delivery: name}) }

// Choose turns a specification into a delivery. Its errors are of type *DeliveryError.
func Choose(o DeliverySpec) (graph.Delivery, error) {
	i := slices.IndexFunc(recipes(), func(r recipe) bool { return r.name == o.Delivery })
	if i < 0 {
		return graph.Delivery{}, &DeliveryError{"delivery", fmt.Sprintf("delivery: unknown value %q", o.Delivery), "valid values: " + strings.Join(Deliveries(), ", ")}
	}
	v, e, err := o.pick(recipes()[i].variants)
	if err != nil {
		return graph.Delivery{}, err
	}
	quality, err := choice("quality", o.Quality, Qualities(), 0)
	if err != nil {
		return graph.Delivery{}, err
	}
	effort, err := choice("effort", o.Effort, Efforts(), normalEffort)
	if err != nil {
		return graph.Delivery{}, err
	}
	d := graph.Delivery{Name: o.Delivery, Ext: v.ext, Format: v.format, Muxer: v.muxer, Sound: v.sound, OverlayOnly: v.overlayOnly, HDR: v.hdr,
		Encoder: e.at(quality, effort)}
	if e.hardware {
		usual := v.encoders[0].at(quality, effort)
		d.Fallback = &usual
	}
	if o.Transfer != "" {
		i, err := choice("transfer", o.Transfer, Transfers(), 0)
		if err != nil {
			return graph.Delivery{}, err
		}
		if !v.hdr {
			return graph.Delivery{}, &DeliveryError{"transfer", fmt.Sprintf("transfer: delivery %s is not HDR", o.Delivery), "set delivery: hdr, or remove transfer:"}
		}
		d.Transfer = []string{media.PQ, media.HLG}[i]
	}
	made := o.Delivery
	if v.overlayOnly {
		made += " in " + v.codec
	}
	if o.Quality != "" && e.quality[0] == nil {
		d.Warnings = append(d.Warnings, finding.Plain(fmt.Sprintf("quality: %s makes no difference to delivery %s, which has one quality", o.Quality, made)))
	}
	if o.Effort != "" && e.effort[0] == nil {
		d.Warnings = append(d.Warnings, finding.Plain(fmt.Sprintf("effort: %s makes no difference to delivery %s, whose encoder knows no effort", o.Effort, made)))
	}
	if d.Options, err = checkOptions(o.Options); err != nil {
		return graph.Delivery{}, err
	}
	return d, nil
}

// pick finds the variant and the encoder that are asked for, or else the first ones.
func (o DeliverySpec) pick(variants []variant) (variant, encoder, error) {
	var codecs, names []string
	for _, v := range variants {
		if codecs = append(codecs, v.codec); o.Codec != "" && v.codec != o.Codec {
			continue
		}
		for _, e := range v.encoders {
			if names = append(names, e.name); o.Encoder == "" || e.name == o.Encoder {
				return v, e, nil
			}
		}
		return v, encoder{}, &DeliveryError{"encoder", fmt.Sprintf("encoder: delivery %s is not made by %s", o.Delivery, o.Encoder),
			"it is made by: " + strings.Join(names, ", ")}
	}
	return variant{}, encoder{}, &DeliveryError{"codec", fmt.Sprintf("codec: delivery %s is not made in %s", o.Delivery, o.Codec),
		"it is made in: " + strings.Join(codecs, ", ")}
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

// blame adds to an error of ffmpeg that the user's options may be its cause.
func blame(d graph.Delivery, err error) error {
	if e := (*media.Error)(nil); len(d.Options) > 0 && errors.As(err, &e) && e.Hint == "" {
		e.Hint = "an option under output: ffmpeg: may be the cause: " + strings.Join(d.Options, " ")
	}
	return err
}
