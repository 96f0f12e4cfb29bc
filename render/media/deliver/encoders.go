package deliver

import (
	"slices"
	"strings"

	"fairframe/render/media/graph"
)

// encoder is one of ffmpeg's, with what the words for quality and effort mean on
// its own scale. The scales are no science: the numbers of quality are those at
// which the trade calls a codec's pictures visually lossless, good, and small
// (common practice), for pictures that are compared side by side.
type encoder struct {
	name      string // ffmpeg's
	codec     string // what it makes, in ffprobe's words
	pixels    string // the pixel format that it is given
	lesser    string // the same below the best quality; "": pixels
	seen      string // the pixel formats that ffprobe may see; "": the one that it is given
	fixed     []string
	keyframes bool // their distance is set
	quality   [3][]string
	effort    [3][]string
	colours   [3]int // of a palette, by quality
	hardware  bool
	upload    bool   // pictures are sent to the device before they are encoded
	rgb       string // the R'G'B' format that pictures are turned into; "": none
}

// at is the encoder at a quality and an effort, by their numbers.
func (e encoder) at(quality, effort int) graph.Encoder {
	made := graph.Encoder{Name: e.name, Codec: e.codec, Pixels: e.pixels, Seen: e.seen, Args: e.fixed, Keyframes: e.keyframes,
		Tuning: slices.Concat(e.quality[quality], e.effort[effort]), Colours: e.colours[quality], Upload: e.upload, RGB: e.rgb}
	if quality > 0 && e.lesser != "" {
		made.Pixels = e.lesser
	}
	if made.Seen == "" {
		made.Seen = made.Pixels
	}
	return made
}

// scale makes the three steps of one option.
func scale(option string, values ...string) (steps [3][]string) {
	for i, v := range values {
		steps[i] = []string{option, v}
	}
	return steps
}

func x264() encoder {
	return encoder{name: "libx264", codec: "h264", pixels: "yuv420p", keyframes: true, fixed: []string{"-profile:v", "high"},
		quality: scale("-crf", "16", "20", "26"), effort: scale("-preset", "superfast", "veryfast", "slow")}
}

func x265() encoder {
	// Players of one maker open HEVC in MP4 under the name hvc1 only. The encoder
	// writes its own log beside ffmpeg's.
	return encoder{name: "libx265", codec: "hevc", pixels: "yuv420p", keyframes: true, fixed: []string{"-tag:v", "hvc1", "-x265-params", "log-level=error"},
		quality: scale("-crf", "17", "21", "27"), effort: scale("-preset", "superfast", "fast", "slow")}
}

// x265Main10 codes HDR. Its parameters for the captures' light come with the clip, see
// Clip.outputArgs.
func x265Main10() encoder {
	e := x265()
	e.pixels, e.fixed = "yuv420p10le", append([]string{"-profile:v", "main10"}, e.fixed...)
	return e
}

func svtAV1() encoder {
	return encoder{name: "libsvtav1", codec: "av1", pixels: "yuv420p", keyframes: true,
		quality: scale("-crf", "20", "28", "40"), effort: scale("-preset", "10", "8", "5")}
}

func proRes422() encoder {
	return encoder{name: "prores_ks", codec: "prores", pixels: "yuv422p10le", fixed: []string{"-vendor", "apl0"},
		quality: scale("-profile:v", "hq", "standard", "lt")}
}

func proRes4444() encoder {
	return encoder{name: "prores_ks", codec: "prores", pixels: "yuva444p10le", seen: "yuva444p12le yuva444p10le",
		fixed: []string{"-profile:v", "4444", "-alpha_bits", "16", "-vendor", "apl0"}}
}

// dnxHR codes 10 bits at its best quality and 8 below it.
func dnxHR() encoder {
	return encoder{name: "dnxhd", codec: "dnxhd", pixels: "yuv422p10le", lesser: "yuv422p",
		quality: scale("-profile:v", "dnxhr_hqx", "dnxhr_hq", "dnxhr_sq")}
}

func ffv1(pixels string) encoder {
	return encoder{name: "ffv1", codec: "ffv1", pixels: pixels,
		fixed: []string{"-level", "3", "-coder", "1", "-context", "0", "-g", "1", "-slices", "4", "-slicecrc", "1"}}
}

// vp9Alpha codes alpha as a picture of its own, as lossily as the colours:
// only lossless coding keeps it to the code.
func vp9Alpha() encoder {
	e := encoder{name: "libvpx-vp9", codec: "vp9", pixels: "yuva420p", seen: "yuv420p", keyframes: true,
		fixed:  []string{"-auto-alt-ref", "0", "-row-mt", "1", "-b:v", "0"},
		effort: scale("-cpu-used", "8", "4", "1")}
	e.quality = [3][]string{{"-lossless", "1"}, {"-crf", "20"}, {"-crf", "32"}}
	return e
}

func pngAlpha() encoder {
	return encoder{name: "png", codec: "png", pixels: "rgba", rgb: "rgba", fixed: []string{"-pred", "mixed"},
		effort: scale("-compression_level", "1", "6", "9")}
}

// gifLoop's quality is the number of colours.
func gifLoop() encoder {
	return encoder{name: "gif", codec: "gif", pixels: "pal8", rgb: "rgb24", quality: [3][]string{{}, {}, {}}, colours: [3]int{256, 192, 96}}
}

// webpLoop gives the encoder R'G'B': YUV in WebP is BT.601 by its format.
func webpLoop() encoder {
	return encoder{name: "libwebp_anim", codec: "webp", pixels: "bgra", rgb: "bgra",
		quality: scale("-quality", "92", "80", "60"), effort: scale("-compression_level", "1", "4", "6")}
}

// hardware are the encoders of graphics cards for a codec. Their scales are the
// drivers' own; nothing here could try them all, and each is tried before it is
// used, see Tools.UsableDelivery.
func hardware(codec string) []encoder {
	fixed := []string{}
	if codec == "hevc" {
		fixed = []string{"-tag:v", "hvc1"}
	}
	if codec == "h264" {
		fixed = []string{"-profile:v", "high"}
	}
	of := func(family string, e encoder) encoder {
		e.name, e.codec, e.hardware, e.keyframes = codec+"_"+family, codec, true, true
		e.fixed = append(strings.Fields(strings.Join(fixed, " ")), e.fixed...)
		if e.pixels == "" {
			e.pixels = "yuv420p"
		}
		e.seen = "yuv420p"
		return e
	}
	list := []encoder{
		of("nvenc", encoder{fixed: []string{"-rc", "vbr", "-b:v", "0"}, quality: scale("-cq", "18", "23", "30"), effort: scale("-preset", "p2", "p4", "p7")}),
		of("qsv", encoder{pixels: "nv12", quality: scale("-global_quality", "18", "23", "30"), effort: scale("-preset", "veryfast", "medium", "veryslow")}),
		of("amf", encoder{pixels: "nv12", fixed: []string{"-rc", "cqp"}, quality: [3][]string{{"-qp_i", "18", "-qp_p", "18"}, {"-qp_i", "23", "-qp_p", "23"}, {"-qp_i", "30", "-qp_p", "30"}},
			effort: scale("-quality", "speed", "balanced", "quality")}),
		of("vaapi", encoder{pixels: "nv12", upload: true, fixed: []string{"-rc_mode", "CQP"}, quality: scale("-qp", "18", "23", "30")}),
	}
	if codec != "av1" {
		list = append(list, of("videotoolbox", encoder{quality: scale("-q:v", "75", "60", "45")}))
	}
	return list
}
