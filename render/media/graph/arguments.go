package graph

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/render/media"
)

// params are libx265's parameters for what is stated.
func params(m *media.Mastering, l *media.ContentLight) string {
	var list []string
	if m != nil {
		list = append(list, fmt.Sprintf("master-display=G(%d,%d)B(%d,%d)R(%d,%d)WP(%d,%d)L(%d,%d)",
			m.Green[0], m.Green[1], m.Blue[0], m.Blue[1], m.Red[0], m.Red[1], m.White[0], m.White[1], m.Max, m.Min))
	}
	if l != nil {
		list = append(list, fmt.Sprintf("max-cll=%d,%d", l.Max, l.Average))
	}
	return strings.Join(list, ":")
}

// IsParams reports whether an option takes a list of an encoder library's own
// parameters, key=value with colons between.
func IsParams(option string) bool {
	return slices.Contains([]string{"x264-params", "x265-params", "svtav1-params"}, option)
}

// Merge adds options to arguments of an output. A list of parameters joins the
// one that is there, which it would replace otherwise.
func Merge(args, options []string) []string {
	args = slices.Clone(args)
	for i := 0; i+1 < len(options); i += 2 {
		at := -1
		if IsParams(strings.TrimPrefix(options[i], "-")) {
			at = slices.Index(args, options[i])
		}
		if at >= 0 {
			args[at+1] += ":" + options[i+1]
			continue
		}
		args = append(args, options[i], options[i+1])
	}
	return args
}

// OutputArgs are the arguments of a clip's output, between its graph and its name.
func (c *Clip) OutputArgs() []string {
	d := c.Delivery
	args := []string{"-fps_mode", "passthrough"}
	if !c.Sound.Heard() {
		// With sound the graph alone ends the clip: ffmpeg 5.1 closes all streams when
		// one of them has its frames, and the sound would lack what is not yet coded.
		args = append(args, "-frames:v", strconv.FormatInt(c.Total(), 10))
	}
	if !d.Encoder.Upload {
		args = append(args, "-pix_fmt", d.Encoder.Pixels)
	}
	args = append(args, d.VideoArgs(c.Rate)...)
	if d.Encoder.RGB == "" {
		args = append(args, c.Coding().Output()...)
	}
	if c.Sound.Heard() {
		args = append(args, d.Sound...)
	}
	m, light, _ := c.StatedLight()
	if p := params(m, light); p != "" {
		args = Merge(args, []string{"-x265-params", p})
	}
	args = Merge(append(args, d.Muxer...), d.Options)
	// Nothing of the captures' own tags or chapters leaks into the clip, and no
	// date or version makes two runs differ.
	args = append(args, c.tagArgs()...)
	return append(args, "-map_metadata", "-1", "-map_chapters", "-1", "-fflags", "+bitexact",
		"-flags:v", "+bitexact", "-flags:a", "+bitexact", "-f", d.Format)
}

// Device are global arguments that an encoder needs.
func (c *Clip) Device() []string {
	if c.Delivery.Encoder.Upload {
		return []string{"-vaapi_device", "/dev/dri/renderD128"}
	}
	return nil
}

// deliver brings the finished picture to the form that the encoder takes.
func (g *graph) deliver(s *ffmpeg.Stream) *ffmpeg.Stream {
	d := g.clip.Delivery
	const flags = "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp"
	switch e := d.Encoder; {
	case e.RGB != "":
		s = g.filter(s, "scale", "in_color_matrix=bt709", "in_range=tv", "out_range=pc", flags)
		s = g.filter(s, "format", e.RGB)
		// Codes of BT.709 are shown as sRGB's (common practice).
		s = g.filter(s, "setparams", "color_primaries=bt709:color_trc=iec61966-2-1")
		if e.Colours > 0 {
			s = g.palette(s)
		}
	case e.Upload:
		s = g.filter(s, "format", e.Pixels)
		s = g.filter(s, "hwupload")
	case e.Pixels != g.clip.drawnIn():
		s = g.filter(s, "scale", flags)
		s = g.filter(s, "format", e.Pixels)
	}
	return s
}

// palette chooses the colours of each frame by itself: one choice for the whole
// clip would have to hold all of it in memory. The ordered pattern keeps still
// layers still.
func (g *graph) palette(s *ffmpeg.Stream) *ffmpeg.Stream {
	both := g.branches(s, 2)
	colour := g.filter(both[0], "palettegen", fmt.Sprintf("max_colors=%d", g.clip.Delivery.Encoder.Colours), "stats_mode=single", "reserve_transparent=0")
	return g.join([]*ffmpeg.Stream{both[1], colour}, "paletteuse", "new=1", "dither=bayer", "bayer_scale=3")
}

// Arguments returns the command line that Render would run, for the floor that
// speed is measured against and for the curious. Captures are read from where
// their frames are looked for first, and the sound is left at its level.
func (c *Clip) Arguments(out string) ([]string, error) {
	from := Sources{}
	for _, l := range c.Inputs {
		from.Seeks = append(from.Seeks, l.Capture.SeekTo(l.Capture.StampAt(l.Start)))
		from.Sound = append(from.Sound, l.Capture.SeekTo(l.Capture.StampAt(l.Start-media.SoundLead)))
	}
	args, err := c.CommandLine(from, []string{"-y", "-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, c.OutputArgs(), nil, media.FileURL(out))
	return slices.Clip(args), err
}

// RecordKey is the key, among a clip's tags, of the record that it carries of
// its own making.
const RecordKey = "fairframe"

// tagArgs are the output arguments for what the clip carries beside its streams.
func (c *Clip) tagArgs() []string { return tagArgsOf(c.Delivery.Format, c.Record, c.Timecode) }

// tagArgsOf are the output arguments for tags. A record is a value by
// itself, never part of a filter or an option's syntax. MP4 and MOV write keys
// of one's own only when told to, and a time code makes them add a tmcd track.
func tagArgsOf(format, record, timecode string) []string {
	if !HasTags(format) {
		return nil
	}
	var args []string
	if record != "" {
		if format == "mp4" || format == "mov" {
			args = append(args, "-movflags", "+use_metadata_tags")
		}
		args = append(args, "-metadata", RecordKey+"="+record)
	}
	if timecode != "" {
		args = append(args, "-metadata", "timecode="+timecode)
	}
	return args
}
