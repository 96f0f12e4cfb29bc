package deliver

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// Reel describes finished clips of one delivery that are played one after the
// other, with a chapter for each.
type Reel struct {
	Delivery graph.Delivery
	Rate     pacing.Rate
	Parts    []ReelPart
	Record   string // what the reel carries of its own making; "": nothing
}

// ReelPart is one clip of a reel.
type ReelPart struct {
	Name   string // for messages
	Path   string
	Frames int64
	Title  string // of its chapter
	// Made is what the clip was made from, and Gain by how many decibels its sound
	// was changed then: where the delivery's coder loses something, the reel's sound
	// is made of them anew.
	Made *graph.Clip
	Gain float64
}

// Total returns how many frames the reel has.
func (r *Reel) Total() int64 {
	var n int64
	for _, p := range r.Parts {
		n += p.Frames
	}
	return n
}

// Joined is what is known of a finished reel.
type Joined struct {
	Arguments []string      // ffmpeg's, as run
	Clip      media.Capture // the reel itself, probed
	Sound     ReelSound
	Warnings  []finding.Finding
}

// ReelSound says where a reel's sound is from.
type ReelSound string

// What a reel's sound is.
const (
	NoSound       ReelSound = "none"
	FromCaptures  ReelSound = "from the captures" // put together anew and coded once, as the clips' was
	CopiedExactly ReelSound = "lossless"          // the clips' own, which no coder of the delivery changes
)

// Join writes the reel into out. Its pictures are the clips' own packets, copied;
// the packets of what was written are compared with them, one by one. Packets of
// sound cannot be joined so: they do not end where pictures do, each clip's first
// ones are a coder's run-up, and each joint would let sound and picture slip by up
// to a packet. Where the delivery's coder is lossless, the clips' sound is decoded
// and coded again, the same to the bit; where it is not, the sound is made from the
// captures anew, so that it too is coded once. Each clip's sound begins at its own
// first picture to the sample, and a clip without sound is silent. Like a clip, a
// reel appears under its name only when it is complete and checked. progress is
// told how many frames are written; it may be nil.
func Join(ctx context.Context, t *media.Tools, r *Reel, out string, progress func(frame int64)) (Joined, error) {
	if len(r.Parts) == 0 {
		return Joined{}, fmt.Errorf("media: a reel of no clips")
	}
	for _, p := range r.Parts {
		if media.SameFile(p.Path, out) {
			return Joined{}, &media.Error{Msg: fmt.Sprintf("media: the reel %s is the clip %s", out, p.Name), Hint: "choose another name for the reel"}
		}
	}
	sound, err := joinable(ctx, t, r)
	if err != nil {
		return Joined{}, err
	}
	work, err := scratch.Mkdir("", "fairframe-reel-*.part")
	if err != nil {
		return Joined{}, fmt.Errorf("media: %w", err)
	}
	defer os.RemoveAll(work)
	list, marks := filepath.Join(work, "clips.ffconcat"), filepath.Join(work, "chapters.txt")
	text, err := r.list()
	if err != nil {
		return Joined{}, err
	}
	if err := os.WriteFile(list, []byte(text), 0o600); err != nil {
		return Joined{}, fmt.Errorf("media: %w", err)
	}
	if err := os.WriteFile(marks, []byte(r.metadata()), 0o600); err != nil {
		return Joined{}, fmt.Errorf("media: %w", err)
	}
	part, err := media.TempFile(out)
	if err != nil {
		return Joined{}, err
	}
	defer os.Remove(part)

	p := media.Process{Args: r.arguments(list, marks, part, sound), What: "media: joining the clips failed"}
	var last lastProgress
	p.Stdout = func(rd io.Reader) error { return last.read(rd, progress) }
	if sound.heard {
		p.Stdin = func(w io.Writer) error { return reelSound(ctx, t, r, sound, w) }
	}
	if err := t.Run(ctx, p); err != nil {
		return Joined{}, underName(err, part, out)
	}
	if !last.ended {
		return Joined{}, fmt.Errorf("media: ffmpeg stopped after %d of %s", last.frame, media.Frames(r.Total()))
	}
	made, err := checkReel(ctx, t, r, part, sound)
	if err != nil {
		return Joined{}, underName(err, part, out)
	}
	warnings, err := reelPeak(ctx, t, r, part)
	if err != nil {
		return Joined{}, err
	}
	if err := media.Publish(part, out); err != nil {
		return Joined{}, err
	}
	made.Path = out
	return Joined{Arguments: p.Args, Clip: made, Sound: sound.origin(r), Warnings: warnings}, nil
}

// reelPeak measures the true peak of a reel of which some clip's level was set: its
// coder cuts the sound into packets at other places than the clips' did.
func reelPeak(ctx context.Context, t *media.Tools, r *Reel, part string) ([]finding.Finding, error) {
	if !r.Delivery.Lossy() || !slices.ContainsFunc(r.Parts, func(p ReelPart) bool { return p.Gain != 0 }) {
		return nil, nil
	}
	found, err := fileLoudness(ctx, t, part)
	if err != nil || found.TruePeak <= ceiling+grain {
		return nil, err
	}
	return []finding.Finding{finding.Plain(fmt.Sprintf("the reel's sound peaks at %.1f dBTP, above the %d dBTP of its clips: the encoder adds that", found.TruePeak, ceiling))}, nil
}

// reelTone is what is known of the clips' streams.
type reelTone struct {
	picture reelStream // of the first clip, and so of all
	heard   bool
	has     []bool // by clip
	alpha   bool   // pictures have transparency that only a tag tells of
	format  string // of the samples, in ffmpeg's words, where the coder has a choice
}

func (s reelTone) origin(r *Reel) ReelSound {
	switch {
	case !s.heard:
		return NoSound
	case r.Delivery.Lossy():
		return FromCaptures
	}
	return CopiedExactly
}

// arguments are ffmpeg's. Stamps are set to whole frames: those of the joined
// clips are off by what their containers and the joining round.
func (r *Reel) arguments(list, marks, part string, sound reelTone) []string {
	rate := fmt.Sprintf("(%s)", r.Rate)
	onGrid := func(stamp string) string { return fmt.Sprintf("round(%s*TB*%s)/(%s*TB)", stamp, rate, rate) }
	args := []string{"-y", "-hide_banner", "-v", "level+warning", "-nostats", "-nostdin", "-copyts", "-stats_period", "0.25", "-progress", "pipe:1",
		// The list is our own, and names our own clips: absolute paths are meant.
		"-protocol_whitelist", media.Protocols, "-format_whitelist", "concat," + media.Containers, "-f", "concat", "-safe", "0", "-auto_convert", "0", "-i", media.FileURL(list),
		"-protocol_whitelist", media.Protocols, "-format_whitelist", "ffmetadata", "-f", "ffmetadata", "-i", media.FileURL(marks)}
	if sound.heard {
		args = append(args, "-protocol_whitelist", "pipe", "-f", "f32le", "-ar", strconv.Itoa(media.SoundRate), "-ac", "2", "-i", "pipe:0")
	}
	args = append(args, "-map", "0:v:0", "-c:v", "copy", "-bsf:v", fmt.Sprintf("setts=pts=%s:dts=%s", onGrid("PTS"), onGrid("DTS")))
	if sound.heard {
		args = append(args, "-map", "2:a:0")
		args = append(args, r.Delivery.SoundArgs()...)
		if sound.format != "" {
			args = append(args, "-sample_fmt", sound.format)
		}
	}
	// Chapters and the reel's own tags come from our file, nothing from the clips.
	args = append(args, "-map_metadata:g", "1:g", "-map_metadata:s", "-1", "-map_chapters", "1",
		"-fflags", "+bitexact", "-flags:a", "+bitexact")
	if sound.alpha {
		args = append(args, "-metadata:s:v:0", "alpha_mode=1")
	}
	if f := r.Delivery.Format; f == "mp4" || f == "mov" {
		flags := "+faststart"
		if r.Record != "" {
			flags += "+use_metadata_tags"
		}
		args = append(args, "-movflags", flags)
	}
	return append(args, "-f", r.Delivery.Format, media.FileURL(part))
}

// list is the reel as ffmpeg's concat demuxer reads it.
func (r *Reel) list() (string, error) {
	var b strings.Builder
	b.WriteString("ffconcat version 1.0\n")
	for _, p := range r.Parts {
		path, err := filepath.Abs(p.Path)
		if err != nil {
			return "", fmt.Errorf("media: %w", err)
		}
		if strings.ContainsAny(path, "\n\r\x00") {
			return "", &media.Error{Msg: fmt.Sprintf("media: clip %s lies in a folder whose name has a line break (%q)", p.Name, path), Hint: "rename the folder"}
		}
		fmt.Fprintf(&b, "file '%s'\nduration %s\n", strings.ReplaceAll(media.FileURL(filepath.ToSlash(path)), "'", `'\''`),
			strconv.FormatFloat(r.Rate.TimeOf(p.Frames).Seconds(), 'f', 6, 64))
	}
	return b.String(), nil
}

// metadata are the reel's tags and chapters as ffmpeg's metadata demuxer reads
// them.
func (r *Reel) metadata() string {
	var b strings.Builder
	b.WriteString(";FFMETADATA1\n")
	if r.Record != "" && graph.HasTags(r.Delivery.Format) {
		fmt.Fprintf(&b, "%s=%s\n", graph.RecordKey, escapeMetadata(r.Record))
	}
	at := int64(0)
	for _, p := range r.Parts {
		fmt.Fprintf(&b, "[CHAPTER]\nTIMEBASE=%d/%d\nSTART=%d\nEND=%d\ntitle=%s\n", r.Rate.Den, r.Rate.Num, at, at+p.Frames, escapeMetadata(p.Title))
		at += p.Frames
	}
	return b.String()
}

// escapeMetadata lets any text be a value.
func escapeMetadata(s string) string {
	return strings.NewReplacer(`\`, `\\`, "=", `\=`, ";", `\;`, "#", `\#`, "\n", "\\\n", "\r", " ").Replace(s)
}

// reelSound writes the sound of all clips, each from its first picture on to the
// last, as interleaved stereo floats. Where clips end is counted from the reel's
// beginning, so that nothing adds up.
func reelSound(ctx context.Context, t *media.Tools, r *Reel, sound reelTone, w io.Writer) error {
	out := bufio.NewWriterSize(w, 1<<16)
	frame, written := int64(0), int64(0)
	for i, p := range r.Parts {
		frame += p.Frames
		end := int64(math.Round(r.Rate.TimeOf(frame).Seconds() * media.SoundRate))
		if sound.has[i] {
			each := func(samples []float32) error {
				most := min(int64(len(samples)/2), end-written)
				written += most
				return binary.Write(out, binary.LittleEndian, samples[:2*most])
			}
			var err error
			if r.Delivery.Lossy() {
				err = soundOf(ctx, t, p.Made, p.Gain, each)
			} else {
				var clip media.Capture
				if clip, err = t.ProbeAs(ctx, p.Path, r.Rate); err == nil {
					err = clipSound(ctx, t, clip, each)
				}
			}
			if err != nil {
				return err
			}
		}
		silence := make([]float32, 2*media.SoundBlock)
		for written < end {
			n := min(int64(media.SoundBlock), end-written)
			if err := binary.Write(out, binary.LittleEndian, silence[:2*n]); err != nil {
				return err
			}
			written += n
		}
	}
	return out.Flush()
}

// soundOf makes a clip's sound from its captures, as Render hands it to the coder,
// as stereo floats.
func soundOf(ctx context.Context, t *media.Tools, c *graph.Clip, gain float64, each func(samples []float32) error) error {
	from, err := locateSounds(ctx, t, c)
	if err != nil {
		return err
	}
	from.Gain = gain
	args, err := c.SoundCommandLine(from, media.Globals("error", "-copyts"), []string{"-f", "f32le", "-c:a", "pcm_f32le"}, "pipe:1")
	if err != nil {
		return err
	}
	return t.Run(ctx, media.Process{Args: args, What: "media: putting the sound together failed", Stdout: media.EachSamples("a clip", 2, each)})
}

// clipSound decodes a clip's sound into stereo floats, from its first picture on.
func clipSound(ctx context.Context, t *media.Tools, c media.Capture, each func(samples []float32) error) error {
	start := strconv.FormatFloat(c.FirstStamp, 'f', 9, 64)
	return t.DecodeSamples(ctx, c, media.FromStart, 2, each,
		[]string{"atrim", "start=" + start}, []string{"asetpts", "round(PTS-(" + start + ")/TB)"},
		[]string{"aresample", strconv.Itoa(media.SoundRate), "async=1", "first_pts=0"},
		[]string{"aformat", "sample_fmts=flt", "channel_layouts=stereo"})
}

// reelStream is what two clips' streams must have in common to be joined without
// coding them again.
type reelStream struct {
	Type     string           `json:"codec_type"`
	Codec    string           `json:"codec_name"`
	Profile  string           `json:"profile"`
	Level    int              `json:"level"`
	Tag      string           `json:"codec_tag_string"`
	Width    int              `json:"width"`
	Height   int              `json:"height"`
	SAR      string           `json:"sample_aspect_ratio"`
	PixFmt   string           `json:"pix_fmt"`
	Range    string           `json:"color_range"`
	Space    string           `json:"color_space"`
	Transfer string           `json:"color_transfer"`
	Primary  string           `json:"color_primaries"`
	Extra    string           `json:"extradata_hash"`
	Sample   string           `json:"sample_fmt"`
	Side     []map[string]any `json:"side_data_list"`

	Tags map[string]string `json:"tags"`
}

// differences lists, in words, in what a differs from b.
func (a reelStream) differences(b reelStream) []string {
	var list []string
	add := func(what string, x, y any) {
		if fmt.Sprint(x) != fmt.Sprint(y) {
			list = append(list, fmt.Sprintf("%s %v and %v", what, x, y))
		}
	}
	add("codec", a.Codec, b.Codec)
	add("profile", a.Profile, b.Profile)
	add("level", a.Level, b.Level)
	add("tag", a.Tag, b.Tag)
	add("size", fmt.Sprintf("%dx%d", a.Width, a.Height), fmt.Sprintf("%dx%d", b.Width, b.Height))
	add("pixel shape", a.SAR, b.SAR)
	add("pixel format", a.PixFmt, b.PixFmt)
	add("range", a.Range, b.Range)
	add("matrix", a.Space, b.Space)
	add("transfer", a.Transfer, b.Transfer)
	add("primaries", a.Primary, b.Primary)
	add("side data", a.Side, b.Side)
	add("alpha", media.Tag(a.Tags, "alpha_mode"), media.Tag(b.Tags, "alpha_mode"))
	if len(list) == 0 && a.Extra != b.Extra {
		list = append(list, "the coder's header")
	}
	return list
}

// pictureOf is the video among streams.
func pictureOf(streams []reelStream) reelStream {
	i := slices.IndexFunc(streams, func(s reelStream) bool { return s.Type == "video" })
	if i < 0 {
		return reelStream{}
	}
	return streams[i]
}

// joinable compares the clips' streams.
func joinable(ctx context.Context, t *media.Tools, r *Reel) (reelTone, error) {
	tone := reelTone{has: make([]bool, len(r.Parts))}
	for i, p := range r.Parts {
		streams, _, err := reelStreams(ctx, t, p.Path)
		if err != nil {
			return tone, err
		}
		v := slices.IndexFunc(streams, func(s reelStream) bool { return s.Type == "video" })
		if v < 0 {
			return tone, &media.Error{Msg: fmt.Sprintf("media: clip %s has no video", p.Path)}
		}
		tone.alpha = tone.alpha || media.Tag(streams[v].Tags, "alpha_mode") == "1"
		if i == 0 {
			tone.picture = streams[v]
		} else if d := tone.picture.differences(streams[v]); len(d) > 0 {
			return tone, &media.Error{
				Msg:  fmt.Sprintf("media: clips %s and %s cannot be joined without coding them again: they differ in %s", r.Parts[0].Name, p.Name, strings.Join(d, ", ")),
				Hint: "render all of them with the same settings (batch --fresh), or join them in an editor, which --timeline prepares",
			}
		}
		for _, s := range streams {
			if s.Type == "audio" {
				tone.heard, tone.has[i] = true, true
				if r.Delivery.Lossy() && (p.Made == nil || !p.Made.Sound.Heard()) {
					return tone, &media.Error{Msg: fmt.Sprintf("media: clip %s has sound, and what it is made from has none", p.Name), Hint: "render it again (batch --fresh)"}
				}
				// A lossless coder keeps the depth of the deepest.
				if s.Codec == "flac" && tone.format != "s32" {
					tone.format = s.Sample
				}
			}
		}
	}
	return tone, nil
}

// checkReel reads the finished reel back: its packets must be the clips' own, at
// their places, its chapters and its length those asked for.
func checkReel(ctx context.Context, t *media.Tools, r *Reel, part string, clips reelTone) (media.Capture, error) {
	made, err := t.ProbeAs(ctx, part, r.Rate)
	if err != nil {
		return media.Capture{}, unreadable(ctx, err)
	}
	made.Frames = r.Total()
	var wrong []string
	if made.Audio != clips.heard {
		wrong = append(wrong, "sound missing or unwanted")
	}
	streams, chapters, err := reelStreams(ctx, t, part)
	if err != nil {
		return media.Capture{}, err
	}
	if d := clips.picture.differences(pictureOf(streams)); len(d) > 0 {
		wrong = append(wrong, "the clips and the reel differ in "+strings.Join(d, ", "))
	}
	same, err := samePackets(ctx, t, r, part)
	if err != nil {
		return media.Capture{}, err
	}
	wrong = append(append(wrong, same...), r.sameChapters(chapters)...)
	if clips.heard {
		want := int64(math.Round(r.Rate.TimeOf(made.Frames).Seconds() * media.SoundRate))
		have := int64(0)
		err := clipSound(ctx, t, made, func(samples []float32) error { have += int64(len(samples) / 2); return nil })
		if err != nil {
			return media.Capture{}, err
		}
		// A coder fills its last packet.
		const packet = 4096
		if have < want || have > want+packet {
			wrong = append(wrong, fmt.Sprintf("%d samples of sound instead of %d", have, want))
		}
	}
	if len(wrong) > 0 {
		return media.Capture{}, notAsked(r.Delivery, "reel", wrong)
	}
	return made, nil
}
