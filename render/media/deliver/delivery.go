package deliver

import (
	"errors"
	"fmt"
	"slices"
	"strings"

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

// recipe is a delivery and its variants, the default one first.
type recipe struct {
	name     string
	variants []graph.Variant
}

// recipes are all deliveries.
func recipes() []recipe {
	web := []string{"-movflags", "+faststart"}
	aac := []string{"-c:a", "aac", "-b:a", "256k"}
	pcm := []string{"-c:a", "pcm_s24le"}
	return []recipe{
		// For a video platform, which encodes again: close to visually lossless,
		// plays everywhere, quick to make.
		{"web", []graph.Variant{{Codec: "h264", Ext: ".mp4", Format: "mp4", Muxer: web, Sound: aac, Encoders: append([]graph.Encoder{x264()}, hardware("h264")...)}}},
		{"hevc", []graph.Variant{{Codec: "hevc", Ext: ".mp4", Format: "mp4", Muxer: web, Sound: aac, Encoders: append([]graph.Encoder{x265()}, hardware("hevc")...)}}},
		{"av1", []graph.Variant{{Codec: "av1", Ext: ".mp4", Format: "mp4", Muxer: web, Sound: aac, Encoders: append([]graph.Encoder{svtAV1()}, hardware("av1")...)}}},
		{"hdr", []graph.Variant{{Codec: "hevc", Ext: ".mp4", Format: "mp4", Muxer: web, Sound: aac, Encoders: []graph.Encoder{x265Main10()}, Hdr: true}}},
		// For editing.
		{"edit", []graph.Variant{{Codec: "prores", Ext: ".mov", Format: "mov", Muxer: web, Sound: pcm, Encoders: []graph.Encoder{proRes422()}}}},
		{"dnxhr", []graph.Variant{{Codec: "dnxhr", Ext: ".mov", Format: "mov", Muxer: web, Sound: pcm, Encoders: []graph.Encoder{dnxHR()}}}},
		// For archives and for proof: what was composed, bit by bit.
		{"lossless", []graph.Variant{{Codec: "ffv1", Ext: ".mkv", Format: "matroska", Sound: []string{"-c:a", "flac"}, Encoders: []graph.Encoder{ffv1("yuv420p")}}}},
		{"overlay", []graph.Variant{
			{Codec: "prores", Ext: ".mov", Format: "mov", Muxer: web, Encoders: []graph.Encoder{proRes4444()}, OverlayOnly: true},
			{Codec: "ffv1", Ext: ".mkv", Format: "matroska", Encoders: []graph.Encoder{ffv1("yuva420p")}, OverlayOnly: true},
			{Codec: "vp9", Ext: ".webm", Format: "webm", Encoders: []graph.Encoder{vp9Alpha()}, OverlayOnly: true},
			{Codec: "png", Format: "image2", Encoders: []graph.Encoder{pngAlpha()}, OverlayOnly: true},
		}},
		// For articles: they play by themselves, without sound, and begin again.
		{"gif", []graph.Variant{{Codec: "gif", Ext: ".gif", Format: "gif", Muxer: []string{"-loop", "0"}, Encoders: []graph.Encoder{gifLoop()}}}},
		{"webp", []graph.Variant{{Codec: "webp", Ext: ".webp", Format: "webp", Muxer: []string{"-loop", "0"}, Encoders: []graph.Encoder{webpLoop()}}}},
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
func DeliveryOf(name string) (graph.Delivery, error) { return Deliver(DeliverySpec{Delivery: name}) }

// Deliver turns an order into a delivery. Its errors are of type *OrderError.
func Deliver(o DeliverySpec) (graph.Delivery, error) {
	i := slices.IndexFunc(recipes(), func(r recipe) bool { return r.name == o.Delivery })
	if i < 0 {
		return graph.Delivery{}, &DeliveryError{"delivery", fmt.Sprintf("delivery: unknown value %q", o.Delivery), "valid values: " + strings.Join(Deliveries(), ", ")}
	}
	variants := recipes()[i].variants
	v := variants[0]
	if o.Codec != "" {
		var codecs []string
		for _, one := range variants {
			if codecs = append(codecs, one.Codec); one.Codec == o.Codec {
				v = one
			}
		}
		if v.Codec != o.Codec {
			return graph.Delivery{}, &DeliveryError{"codec", fmt.Sprintf("codec: delivery %s is not made in %s", o.Delivery, o.Codec), "it is made in: " + strings.Join(codecs, ", ")}
		}
	}
	d := graph.Delivery{Name: o.Delivery, Ext: v.Ext, Variant: v, Encoder: v.Encoders[0], Effort: normalEffort}
	if o.Encoder != "" {
		var names []string
		found := false
		for _, e := range v.Encoders {
			if names = append(names, e.Name); e.Name == o.Encoder {
				d.Encoder, found = e, true
			}
		}
		if !found {
			return graph.Delivery{}, &DeliveryError{"encoder", fmt.Sprintf("encoder: delivery %s is not made by %s", o.Delivery, o.Encoder), "it is made by: " + strings.Join(names, ", ")}
		}
	}
	var err error
	if d.Quality, err = choice("quality", o.Quality, Qualities(), 0); err != nil {
		return graph.Delivery{}, err
	}
	if d.Effort, err = choice("effort", o.Effort, Efforts(), normalEffort); err != nil {
		return graph.Delivery{}, err
	}
	if o.Transfer != "" {
		i, err := choice("transfer", o.Transfer, Transfers(), 0)
		if err != nil {
			return graph.Delivery{}, err
		}
		if !v.Hdr {
			return graph.Delivery{}, &DeliveryError{"transfer", fmt.Sprintf("transfer: delivery %s is not HDR", o.Delivery), "set delivery: hdr, or remove transfer:"}
		}
		d.Transfer = []string{media.PQ, media.HLG}[i]
	}
	if o.Quality != "" && !d.Encoder.HasQuality() {
		d.Warnings = append(d.Warnings, fmt.Sprintf("quality: %s makes no difference to delivery %s, which has one quality", o.Quality, made(d)))
	}
	if o.Effort != "" && !d.Encoder.HasEffort() {
		d.Warnings = append(d.Warnings, fmt.Sprintf("effort: %s makes no difference to delivery %s, whose encoder knows no effort", o.Effort, made(d)))
	}
	if d.Options, err = checkOptions(o.Options); err != nil {
		return graph.Delivery{}, err
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
func made(d graph.Delivery) string {
	if d.Variant.OverlayOnly {
		return d.Name + " in " + d.Variant.Codec
	}
	return d.Name
}

// blame adds to an error of ffmpeg that the user's options may be its cause.
func blame(d graph.Delivery, err error) error {
	if e := (*media.Error)(nil); len(d.Options) > 0 && errors.As(err, &e) && e.Hint == "" {
		e.Hint = "an option under output: ffmpeg: may be the cause: " + strings.Join(d.Options, " ")
	}
	return err
}
