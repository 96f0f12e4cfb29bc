package media

import (
	"context"
	"encoding/json"
	"fmt"
	"image"
	"math"
	"slices"
	"strconv"
	"strings"

	"fairframe/render/finding"
	"fairframe/render/pacing"
)

// Capture is what is known of a recording before it is decoded.
type Capture struct {
	Path   string
	Format string      // the container, in ffmpeg's words
	Codec  string      // the video's
	PixFmt string      // the video's pixel format, in ffmpeg's words
	Size   image.Point // in pixels, as decoded; Shape is that in square pixels
	Pixel  image.Point // width and height of a pixel, as a ratio; zero: square
	Rate   pacing.Rate // exact, frames a second
	Frames int64       // how many the container announces; 0: it does not say
	Audio  bool        // there is sound
	Track  Track       // the sound that is heard
	Colour Colour
	Tags   Tags // what Colour is taken from
	// Mastering and Light are what the capture states of its light; nil: nothing.
	Mastering *Mastering
	Light     *ContentLight
	// Timecode is the label of the first frame, as the file states it; "": none.
	Timecode string
	// Forward says that no picture is predicted from one that is shown after it.
	Forward bool

	Warnings []finding.Finding // what is odd but can be worked with

	uneven error // why the container's rates are none; nil: Rate is theirs
	// sampled says that only the first of its packets were looked at, and that it may
	// not keep to its Rate farther on.
	sampled       bool
	timing        *timing // of the pictures; nil: one every 1/Rate
	delay         int64   // how many pictures the decoder holds back to put them in order
	FirstStamp    float64 // stamp of the first video frame, in seconds
	SeekOrigin    float64 // stamp from which ffmpeg counts a seek, in seconds
	SoundLength   float64 // how long the first sound lasts, as the container states it, in seconds; -1: it does not
	PictureLength float64 // how long the picture lasts, in the same way
}

// Colour is how a capture codes its colours, in ffmpeg's words, as tagged or
// as assumed where the tags are missing.
type Colour struct {
	Matrix    string // bt709, bt601, bt2020
	Full      bool   // full range
	RGB       bool   // R'G'B' itself; the matrix then says nothing
	Transfer  string // "" when untagged
	Primaries string // one of primaries
	Strange   string // the tag of primaries that are none of these, and taken as bt709; "": none
	Assumed   bool   // the matrix was not tagged
}

// Containers are the demuxers that may open a capture. The list is the real
// defence against text that poses as a video: a playlist named .mkv would open
// the files it names.
const Containers = "mov,matroska,webm,mpegts,mpeg,avi,nut,mxf,flv,yuv4mpegpipe"

// Protocols are those that a capture may use: its own file.
const Protocols = "file"

// ordered are the codecs that predict pictures from later ones by coding them in
// another order than they are shown, which ffprobe reports. Newer ones code
// pictures that are not shown at all.
var ordered = []string{"h264", "hevc", "mpeg1video", "mpeg2video", "mpeg4"}

// mostPixels bounds the pictures that a decoder may ask memory for: more than the
// largest clip has (7680x7680). A small file may claim any size.
const mostPixels = 8192 * 8192

// InputGuard are the options of a capture as an input, which keep what it holds from
// opening other files and from taking all memory.
func InputGuard() []string {
	return []string{"-protocol_whitelist", Protocols, "-format_whitelist", Containers, "-max_pixels", strconv.Itoa(mostPixels)}
}

type probed struct {
	Streams []probedStream `json:"streams"`
	Format  struct {
		Name  string `json:"format_name"`
		Start string `json:"start_time"`
		Span  string `json:"duration"`

		Tags map[string]string `json:"tags"`
	} `json:"format"`
	Frames []struct {
		Stream int    `json:"stream_index"`
		Best   string `json:"best_effort_timestamp_time"`
		PTS    string `json:"pts_time"`

		SideData []probedSide `json:"side_data_list"`
	} `json:"frames"`
}

type probedStream struct {
	Index       int               `json:"index"`
	Type        string            `json:"codec_type"`
	Codec       string            `json:"codec_name"`
	Width       int               `json:"width"`
	Height      int               `json:"height"`
	PixFmt      string            `json:"pix_fmt"`
	Range       string            `json:"color_range"`
	Space       string            `json:"color_space"`
	Transfer    string            `json:"color_transfer"`
	Primaries   string            `json:"color_primaries"`
	FieldOrder  string            `json:"field_order"`
	Reordered   int               `json:"has_b_frames"`
	SAR         string            `json:"sample_aspect_ratio"`
	TimeBase    string            `json:"time_base"`
	RFrameRate  string            `json:"r_frame_rate"`
	AvgRate     string            `json:"avg_frame_rate"`
	Frames      string            `json:"nb_frames"`
	Span        string            `json:"duration"`
	Tags        map[string]string `json:"tags"`
	Disposition map[string]int    `json:"disposition"`
	Channels    int               `json:"channels"`
	Layout      string            `json:"channel_layout"`
	SampleRate  string            `json:"sample_rate"`
	SideData    []probedSide      `json:"side_data_list"`
}

// length is how long the container says that a stream is, in seconds; -1 if it
// does not say.
func (s *probedStream) length() float64 {
	if v, err := strconv.ParseFloat(s.Span, 64); err == nil {
		return v
	}
	// Matroska's tag.
	if end := clock(Tag(s.Tags, "DURATION")); end > 0 {
		return end
	}
	return -1
}

// firstStamp is the stamp of the first picture of that stream, in seconds, and
// whether one came out of the packets that were read.
func (p *probed) firstStamp(stream int) (float64, bool) {
	for _, f := range p.Frames {
		switch {
		case f.Stream != stream:
		case f.Best != "":
			return Seconds(f.Best), true
		default:
			return Seconds(f.PTS), true
		}
	}
	return 0, false
}

// Probe reads what a capture is. It costs a short run of ffprobe, which decodes
// a frame or two. Its errors name the file, what was found, and what to do.
func (t *Tools) Probe(ctx context.Context, path string) (Capture, error) {
	return t.ProbeAs(ctx, path, pacing.Rate{})
}

// ProbeAs is Probe of a file whose rate is known: a clip of our own, of which a
// container's averages say less than its stamps. The zero rate is found out.
func (t *Tools) ProbeAs(ctx context.Context, path string, rate pacing.Rate) (Capture, error) {
	if err := CheckReadable(path); err != nil {
		return Capture{}, err
	}
	p, err := t.probe(ctx, path, "-show_format", "-show_streams", "-show_frames", "-read_intervals", "%+#4")
	if err != nil {
		return Capture{}, err
	}
	var video *probedStream
	c := Capture{Path: path, Format: p.Format.Name, Timecode: p.timecode(), Rate: rate}
	for i := range p.Streams {
		s := &p.Streams[i]
		switch {
		case s.Type == "video" && video == nil && s.Disposition["attached_pic"] == 0:
			video, c.PictureLength = s, s.length()
		case s.Type == "audio":
			if !c.Audio {
				c.SoundLength = s.length()
			}
			c.Audio = true
			c.Track.add(s)
		}
	}
	if video == nil {
		return Capture{}, &Error{Msg: fmt.Sprintf("media: %s has no video", path), Hint: "name the recording itself"}
	}
	// The first few packets hold a picture, as a rule; an edit list or leading
	// pictures may hide it, and then more are read.
	var seen bool
	if c.FirstStamp, seen = p.firstStamp(video.Index); !seen {
		more, err := t.probe(ctx, path, "-select_streams", "v:0", "-show_frames", "-read_intervals", "%+#60")
		if err != nil {
			return Capture{}, err
		}
		if c.FirstStamp, seen = more.firstStamp(video.Index); !seen {
			return Capture{}, &Error{Msg: fmt.Sprintf("media: %s: no frame of it can be decoded", path),
				Hint: "the file is damaged or still being written; copy or record it again"}
		}
	}
	if err := c.fill(video, p); err != nil {
		return Capture{}, err
	}
	if !rate.Valid() {
		if err := t.readTiming(ctx, &c, video); err != nil {
			return Capture{}, err
		}
	}
	return c, t.CheckConvertible(ctx, c, SDR())
}

// mostDelay is how many pictures a decoder may hold back (ITU-T H.264 and H.265,
// max_num_reorder_frames).
const mostDelay = 16

func (t *Tools) probe(ctx context.Context, path string, what ...string) (p probed, err error) {
	err = t.ProbeInto(ctx, path, &p, what...)
	return p, err
}

// ProbeInto reads what ffprobe says of a file.
func (t *Tools) ProbeInto(ctx context.Context, path string, into any, what ...string) error {
	args := slices.Concat([]string{"-hide_banner", "-v", "level+error"}, InputGuard(), []string{"-print_format", "json"}, what)
	var out strings.Builder
	err := t.Run(ctx, Process{Program: t.FFprobe, Args: append(args, FileURL(path)), Stdout: ReadInto(&out),
		What: fmt.Sprintf("media: %s cannot be opened as a video", path)})
	if err != nil {
		return err
	}
	if err := json.Unmarshal([]byte(out.String()), into); err != nil {
		return fmt.Errorf("media: ffprobe on %s: %w", path, err)
	}
	return nil
}

func (c *Capture) fill(s *probedStream, p probed) error {
	c.Codec, c.PixFmt, c.Tags = s.Codec, s.PixFmt, s.tags()
	c.Forward = s.Reordered == 0 && slices.Contains(ordered, s.Codec)
	c.delay = min(max(0, int64(s.Reordered)), mostDelay)
	c.Size = image.Pt(s.Width, s.Height)
	if c.Size.X <= 0 || c.Size.Y <= 0 {
		return &Error{Msg: fmt.Sprintf("media: %s has no picture size", c.Path), Hint: "the file is damaged; record it again"}
	}
	var err error
	if c.Pixel, err = pixelShape(s.SAR); err != nil {
		return &Error{Msg: fmt.Sprintf("media: %s: %v", c.Path, err), Hint: "give the file its true pixel shape, or convert the capture to square pixels"}
	}
	for _, d := range s.SideData {
		// ffmpeg turns pictures upright as it decodes them.
		switch math.Abs(d.Rotation) {
		case 0, 180:
		case 90, 270:
			c.Size = image.Pt(c.Size.Y, c.Size.X)
			c.Pixel.X, c.Pixel.Y = c.Pixel.Y, c.Pixel.X
		default:
			return &Error{Msg: fmt.Sprintf("media: %s is rotated by %g degrees", c.Path, d.Rotation),
				Hint: "turn the capture upright first"}
		}
	}
	switch s.FieldOrder {
	case "tt", "bb", "tb", "bt":
		words := c.Path + " is interlaced; its two fields are shown as one picture"
		c.Warnings = append(c.Warnings, finding.Finding{Severity: finding.Misleads, Evidence: words, Words: words,
			What: "the capture is not what it should be", Remedy: "record it progressive, or convert it first"})
	}
	if !c.Rate.Valid() {
		c.Rate, c.uneven = exactRate(s.AvgRate, s.RFrameRate)
	}
	if c.Colour, err = colourOf(s); err != nil {
		return &Error{Msg: fmt.Sprintf("media: %s: %v", c.Path, err)}
	}
	c.state(s.SideData)
	for _, f := range p.Frames {
		if f.Stream == s.Index {
			c.state(f.SideData)
		}
	}
	c.SeekOrigin = Seconds(p.Format.Start)
	if !c.Rate.Valid() {
		return nil // its stamps say what there is to say
	}
	if c.Frames = announced(s, p, c.Rate, c.FirstStamp); c.Frames < 0 || float64(c.Frames) > mostSeconds*c.Rate.Hz() {
		c.Frames = 0 // nobody recorded for so long
	}
	return nil
}

// mostSeconds is longer than any capture is.
const mostSeconds = 365 * 24 * 3600

// announced returns how many frames a container says it holds, 0 when it does
// not say. It serves early errors only; the frames are counted when decoded.
func announced(s *probedStream, p probed, r pacing.Rate, first float64) int64 {
	if n, err := strconv.ParseInt(s.Frames, 10, 64); err == nil && n > 0 {
		return n
	}
	span := Seconds(s.Span)
	if tag, ok := s.Tags["DURATION"]; ok && span == 0 {
		// Matroska's tag is the track's end on the file's clock.
		span = clock(tag) - first
	}
	if span == 0 {
		span = Seconds(p.Format.Span)
	}
	return int64(math.Round(span * r.Hz()))
}

func Seconds(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// clock reads "00:00:12.016000000".
func clock(s string) float64 {
	var h, m int
	var sec float64
	if _, err := fmt.Sscanf(s, "%d:%d:%f", &h, &m, &sec); err != nil {
		return 0
	}
	return float64(h)*3600 + float64(m)*60 + sec
}

// exactRate finds the exact rate behind what a container says of it. Stamps of
// whole milliseconds turn 60000/1001 into 19001/317, so a rate within 0.02 % of
// one in use is that one. An average that differs from the base rate by more
// than 1 % means frames of differing lengths.
func exactRate(average, base string) (pacing.Rate, error) {
	avg, avgErr := fraction(average)
	r, rErr := fraction(base)
	if avgErr != nil && rErr != nil {
		return pacing.Rate{}, fmt.Errorf("has no frame rate (%q)", average)
	}
	if avgErr != nil {
		avg = r
	}
	if rErr != nil {
		r = avg
	}
	if known, ok := inUse(avg); ok {
		return known, nil
	}
	if known, ok := inUse(r); ok && math.Abs(avg-known.Hz()) <= 0.01*known.Hz() {
		return known, nil
	}
	if math.Abs(avg-r) > 0.01*r {
		return pacing.Rate{}, fmt.Errorf("has a variable frame rate (%.2f on average, base %.2f)", avg, r)
	}
	num, den, _ := strings.Cut(average, "/")
	n, _ := strconv.ParseInt(num, 10, 64)
	d, _ := strconv.ParseInt(den, 10, 64)
	const plain = 100000
	rate, err := pacing.NewRate(n, d)
	if err != nil || rate.Num > plain || rate.Den > plain {
		return pacing.Rate{}, fmt.Errorf("has an odd frame rate (%s)", average)
	}
	return rate, nil
}

func fraction(s string) (float64, error) {
	num, den, _ := strings.Cut(s, "/")
	n, err := strconv.ParseFloat(num, 64)
	if err != nil {
		return 0, err
	}
	d := 1.0
	if den != "" {
		if d, err = strconv.ParseFloat(den, 64); err != nil {
			return 0, err
		}
	}
	if n <= 0 || d <= 0 {
		return 0, fmt.Errorf("media: rate %q", s)
	}
	return n / d, nil
}

// ratesInUse are the frame rates of screens and recorders (common practice).
func ratesInUse() []pacing.Rate {
	return []pacing.Rate{
		{Num: 60, Den: 1}, {Num: 60000, Den: 1001}, {Num: 30, Den: 1}, {Num: 30000, Den: 1001},
		{Num: 120, Den: 1}, {Num: 120000, Den: 1001},
		{Num: 50, Den: 1}, {Num: 25, Den: 1}, {Num: 24, Den: 1}, {Num: 24000, Den: 1001},
		{Num: 100, Den: 1}, {Num: 144, Den: 1}, {Num: 240, Den: 1},
		{Num: 48, Den: 1}, {Num: 48000, Den: 1001}, {Num: 72, Den: 1}, {Num: 75, Den: 1}, {Num: 90, Den: 1},
		{Num: 165, Den: 1}, {Num: 20, Den: 1}, {Num: 15, Den: 1}, {Num: 10, Den: 1},
	}
}

// inUse returns the rate in common use that hz is within 0.02 % of. The nearest
// two, 60 and 60000/1001, lie 0.1 % apart.
func inUse(hz float64) (pacing.Rate, bool) {
	for _, r := range ratesInUse() {
		if math.Abs(hz-r.Hz()) <= 0.0002*r.Hz() {
			return r, true
		}
	}
	return pacing.Rate{}, false
}

// common reports whether a rate is one in common use.
func common(r pacing.Rate) bool {
	known, ok := inUse(r.Hz())
	return ok && known == r
}
