package deliver

import (
	"strings"

	"fairframe/render/media/graph"
)

// scale makes the three steps of one option.
func scale(option string, values ...string) (steps [3][]string) {
	for i, v := range values {
		steps[i] = []string{option, v}
	}
	return steps
}

func x264() graph.Encoder {
	return graph.Encoder{Name: "libx264", Codec: "h264", Pixels: "yuv420p", Keyframes: true, Fixed: []string{"-profile:v", "high"},
		Quality: scale("-crf", "16", "20", "26"), Effort: scale("-preset", "superfast", "veryfast", "slow")}
}

func x265() graph.Encoder {
	// Players of one maker open HEVC in MP4 under the name hvc1 only. The encoder
	// writes its own log beside ffmpeg's.
	return graph.Encoder{Name: "libx265", Codec: "hevc", Pixels: "yuv420p", Keyframes: true, Fixed: []string{"-tag:v", "hvc1", "-x265-params", "log-level=error"},
		Quality: scale("-crf", "17", "21", "27"), Effort: scale("-preset", "superfast", "fast", "slow")}
}

// x265Main10 codes HDR. Its parameters for the captures' light come with the clip, see
// Clip.outputArgs.
func x265Main10() graph.Encoder {
	e := x265()
	e.Pixels, e.Fixed = "yuv420p10le", append([]string{"-profile:v", "main10"}, e.Fixed...)
	return e
}

func svtAV1() graph.Encoder {
	return graph.Encoder{Name: "libsvtav1", Codec: "av1", Pixels: "yuv420p", Keyframes: true,
		Quality: scale("-crf", "20", "28", "40"), Effort: scale("-preset", "10", "8", "5")}
}

func proRes422() graph.Encoder {
	return graph.Encoder{Name: "prores_ks", Codec: "prores", Pixels: "yuv422p10le", Fixed: []string{"-vendor", "apl0"},
		Quality: scale("-profile:v", "hq", "standard", "lt")}
}

func proRes4444() graph.Encoder {
	return graph.Encoder{Name: "prores_ks", Codec: "prores", Pixels: "yuva444p10le", Seen: "yuva444p12le yuva444p10le",
		Fixed: []string{"-profile:v", "4444", "-alpha_bits", "16", "-vendor", "apl0"}}
}

// dnxHR codes 10 bits at its best quality and 8 below it.
func dnxHR() graph.Encoder {
	return graph.Encoder{Name: "dnxhd", Codec: "dnxhd", Pixels: "yuv422p10le",
		Quality: scale("-profile:v", "dnxhr_hqx", "dnxhr_hq", "dnxhr_sq")}
}

func ffv1(pixels string) graph.Encoder {
	return graph.Encoder{Name: "ffv1", Codec: "ffv1", Pixels: pixels,
		Fixed: []string{"-level", "3", "-coder", "1", "-context", "0", "-g", "1", "-slices", "4", "-slicecrc", "1"}}
}

// vp9Alpha codes alpha as a picture of its own, as lossily as the colours:
// only lossless coding keeps it to the code.
func vp9Alpha() graph.Encoder {
	e := graph.Encoder{Name: "libvpx-vp9", Codec: "vp9", Pixels: "yuva420p", Seen: "yuv420p", Keyframes: true,
		Fixed:  []string{"-auto-alt-ref", "0", "-row-mt", "1", "-b:v", "0"},
		Effort: scale("-cpu-used", "8", "4", "1")}
	e.Quality = [3][]string{{"-lossless", "1"}, {"-crf", "20"}, {"-crf", "32"}}
	return e
}

func pngAlpha() graph.Encoder {
	return graph.Encoder{Name: "png", Codec: "png", Pixels: "rgba", Rgb: "rgba", Fixed: []string{"-pred", "mixed"},
		Effort: scale("-compression_level", "1", "6", "9")}
}

// gifLoop's quality is the number of colours, see palette.
func gifLoop() graph.Encoder {
	return graph.Encoder{Name: "gif", Codec: "gif", Pixels: "pal8", Rgb: "rgb24", Quality: [3][]string{{}, {}, {}}}
}

// webpLoop gives the encoder R'G'B': YUV in WebP is BT.601 by its format.
func webpLoop() graph.Encoder {
	return graph.Encoder{Name: "libwebp_anim", Codec: "webp", Pixels: "bgra", Rgb: "bgra",
		Quality: scale("-quality", "92", "80", "60"), Effort: scale("-compression_level", "1", "4", "6")}
}

// hardware are the encoders of graphics cards for a codec. Their scales are the
// drivers' own; nothing here could try them all, and each is tried before it is
// used, see Tools.UsableDelivery.
func hardware(codec string) []graph.Encoder {
	fixed := []string{}
	if codec == "hevc" {
		fixed = []string{"-tag:v", "hvc1"}
	}
	if codec == "h264" {
		fixed = []string{"-profile:v", "high"}
	}
	of := func(family string, e graph.Encoder) graph.Encoder {
		e.Name, e.Codec, e.Hardware, e.Keyframes = codec+"_"+family, codec, true, true
		e.Fixed = append(strings.Fields(strings.Join(fixed, " ")), e.Fixed...)
		if e.Pixels == "" {
			e.Pixels = "yuv420p"
		}
		e.Seen = "yuv420p"
		return e
	}
	list := []graph.Encoder{
		of("nvenc", graph.Encoder{Fixed: []string{"-rc", "vbr", "-b:v", "0"}, Quality: scale("-cq", "18", "23", "30"), Effort: scale("-preset", "p2", "p4", "p7")}),
		of("qsv", graph.Encoder{Pixels: "nv12", Quality: scale("-global_quality", "18", "23", "30"), Effort: scale("-preset", "veryfast", "medium", "veryslow")}),
		of("amf", graph.Encoder{Pixels: "nv12", Fixed: []string{"-rc", "cqp"}, Quality: [3][]string{{"-qp_i", "18", "-qp_p", "18"}, {"-qp_i", "23", "-qp_p", "23"}, {"-qp_i", "30", "-qp_p", "30"}},
			Effort: scale("-quality", "speed", "balanced", "quality")}),
		of("vaapi", graph.Encoder{Pixels: "nv12", Upload: true, Fixed: []string{"-rc_mode", "CQP"}, Quality: scale("-qp", "18", "23", "30")}),
	}
	if codec != "av1" {
		list = append(list, of("videotoolbox", graph.Encoder{Quality: scale("-q:v", "75", "60", "45")}))
	}
	return list
}
