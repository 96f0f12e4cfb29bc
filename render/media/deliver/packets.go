package deliver

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// packet is one coded picture, or a piece of sound, as a container holds it.
type packet struct {
	stream int     // 0: the picture
	at     float64 // its stamp, in seconds
	hash   string  // of its bytes, and how many they are
}

// packetLines reads the lines of ffmpeg's framecrc and framehash, which list packets.
type packetLines struct{ units []float64 }

// line returns the packet that a line tells of; known is false if it tells of none.
func (l *packetLines) line(text string) (p packet, known bool, err error) {
	if base, ok := strings.CutPrefix(text, "#tb "); ok {
		var i int
		var num, den float64
		if _, err := fmt.Sscanf(base, "%d: %f/%f", &i, &num, &den); err != nil || i != len(l.units) || den == 0 {
			return p, false, fmt.Errorf("media: time base %q", base)
		}
		l.units = append(l.units, num/den)
	}
	// stream, dts, pts, duration, size, hash
	fields := strings.Split(text, ",")
	if strings.HasPrefix(text, "#") || len(fields) < 6 {
		return p, false, nil
	}
	for i := range fields {
		fields[i] = strings.TrimSpace(fields[i])
	}
	p.stream, err = strconv.Atoi(fields[0])
	pts, wrong := strconv.ParseFloat(fields[2], 64)
	if err != nil || wrong != nil || p.stream < 0 || p.stream >= len(l.units) {
		return p, false, fmt.Errorf("media: packet %q", text)
	}
	p.at, p.hash = pts*l.units[p.stream], fields[4]+" "+fields[5]
	return p, true, nil
}

// eachPacketOf tells of each picture of a file, in coding order, without decoding any.
func eachPacketOf(ctx context.Context, t *media.Tools, path string, each func(packet) error) error {
	args := append(media.Globals("error", "-copyts"), media.InputGuard()...)
	args = append(args, "-i", media.FileURL(path), "-map", "0:v:0", "-c", "copy", "-f", "framehash", "-hash", "md5", "pipe:1")
	return t.Run(ctx, media.Process{Args: args, What: fmt.Sprintf("media: reading %s failed", path),
		Stdout: func(r io.Reader) error {
			var list packetLines
			for lines := bufio.NewScanner(r); ; {
				if !lines.Scan() {
					return lines.Err()
				}
				p, known, err := list.line(lines.Text())
				if err == nil && known {
					err = each(p)
				}
				if err != nil {
					return err
				}
			}
		}})
}

// offGrid is how far, in frames, a stamp may lie from a whole frame: containers
// that count milliseconds round.
const offGrid = 0.1

// samePackets compares a reel's packets with those of its clips, and their
// stamps with whole frames; it lists what is wrong.
func samePackets(ctx context.Context, t *media.Tools, r *Reel, reel string) ([]string, error) {
	var wrong []string
	add := func(h io.Writer, n int64, p packet) { fmt.Fprintln(h, n, p.hash) }
	clips, joined := sha256.New(), sha256.New()
	base := int64(0)
	for _, part := range r.Parts {
		count := int64(0)
		// Where the first picture's stamp lies is the container's affair. It is that of
		// the first packet: no encoder begins with pictures shown before its first.
		first := 0.0
		var shown stamped
		err := eachPacketOf(ctx, t, part.Path, func(p packet) error {
			if count == 0 {
				first = p.at
			}
			add(clips, base+int64(math.Round((p.at-first)*r.Rate.Hz())), p)
			count++
			shown.add(p)
			return nil
		})
		if err != nil {
			return nil, err
		}
		if words := shown.differs(r.Rate, part.Frames, false); words != "" {
			wrong = append(wrong, fmt.Sprintf("clip %s: %s", part.Name, words))
		}
		base += part.Frames
	}
	count, worst, least := int64(0), 0.0, math.Inf(1)
	err := eachPacketOf(ctx, t, reel, func(p packet) error {
		frame := p.at * r.Rate.Hz()
		n := math.Round(frame)
		worst = math.Max(worst, math.Abs(frame-n))
		least = math.Min(least, n)
		add(joined, int64(n), p)
		count++
		return nil
	})
	if err != nil {
		return nil, err
	}
	switch {
	case count != r.Total():
		wrong = append(wrong, fmt.Sprintf("%s instead of %d", media.Frames(count), r.Total()))
	case hex.EncodeToString(clips.Sum(nil)) != hex.EncodeToString(joined.Sum(nil)):
		wrong = append(wrong, "its pictures are not those of the clips at their places")
	}
	if worst > offGrid || least != 0 {
		wrong = append(wrong, fmt.Sprintf("its stamps are off by up to %.2f frames, the first is %.0f", worst, least))
	}
	return wrong, nil
}

// stamped gathers when a clip's pictures are shown, and its sound is heard.
type stamped struct {
	pictures   []float64 // in seconds, in the order of coding
	begin, end float64   // stamps of the first and the last sound
	heard      bool
}

func (s *stamped) add(p packet) {
	switch {
	case p.stream == 0:
		s.pictures = append(s.pictures, p.at)
	case !s.heard:
		s.begin, s.end, s.heard = p.at, p.at, true
	default:
		s.begin, s.end = min(s.begin, p.at), max(s.end, p.at)
	}
}

// differs tells in words how the stamps differ from those of n frames at rate r, one
// after the other, with sound that begins and ends with them; "" if they do not. What a
// container says of its rate on average is no measure: it hides a wrong stamp among
// many, and demuxers disagree about a few.
func (s *stamped) differs(r pacing.Rate, n int64, sound bool) string {
	if count := int64(len(s.pictures)); count != n {
		return fmt.Sprintf("it has %s instead of %d", media.Frames(count), n)
	}
	slices.Sort(s.pictures)
	for k, at := range s.pictures {
		if at -= s.pictures[0]; math.Abs(at*r.Hz()-float64(k)) > offGrid {
			return fmt.Sprintf("its frame %d is shown after %.3f s instead of %.3f s", k, at, float64(k)/r.Hz())
		}
	}
	if !sound || n == 0 {
		return ""
	}
	// A coder's run-up is two packets at most, and the last packet begins some before
	// the end.
	const most = 0.1
	from, to := s.begin-s.pictures[0], s.end-s.pictures[0]-float64(n)/r.Hz()
	switch {
	case !s.heard:
		return "it has no sound"
	case from < -most || from > offGrid/r.Hz() || to < -most || to > 0:
		return fmt.Sprintf("its sound begins %+.3f s and ends about %+.3f s from where the picture does", from, to)
	}
	return ""
}

// Timing tells in words how a clip's stamps differ from those of n frames at rate
// r, one after the other, with sound that begins and ends with them; "" if they do
// not. A clip whose coded pictures are untouched may still be shown faster, slower
// or in another order, and its sound may have been moved.
func Timing(ctx context.Context, t *media.Tools, path string, r pacing.Rate, n int64, sound bool) (string, error) {
	_, shown, err := readThrough(ctx, t, path)
	if err != nil {
		return "", err
	}
	return shown.differs(r, n, sound), nil
}

// Chapter is a named stretch of a file.
type Chapter struct {
	From, To float64 // seconds
	Title    string
}

type probedChapter struct {
	Start string            `json:"start_time"`
	End   string            `json:"end_time"`
	Tags  map[string]string `json:"tags"`
}

// Chapters returns a file's chapters.
func Chapters(ctx context.Context, t *media.Tools, path string) ([]Chapter, error) {
	_, chapters, err := reelStreams(ctx, t, path)
	return chapters, err
}

// sameChapters compares a reel's chapters with its parts, to a millisecond.
func (r *Reel) sameChapters(list []Chapter) []string {
	if len(list) != len(r.Parts) {
		return []string{fmt.Sprintf("%d chapters instead of %d", len(list), len(r.Parts))}
	}
	var wrong []string
	at := int64(0)
	for i, p := range r.Parts {
		from, to := r.Rate.TimeOf(at).Seconds(), r.Rate.TimeOf(at+p.Frames).Seconds()
		at += p.Frames
		if c := list[i]; c.Title != p.Title || math.Abs(c.From-from) > 0.0011 || math.Abs(c.To-to) > 0.0011 {
			wrong = append(wrong, fmt.Sprintf("chapter %q from %.3f s to %.3f s instead of %q from %.3f s to %.3f s", c.Title, c.From, c.To, p.Title, from, to))
		}
	}
	return wrong
}

// reelStreams returns a file's streams and chapters.
func reelStreams(ctx context.Context, t *media.Tools, path string) ([]reelStream, []Chapter, error) {
	if err := media.CheckReadable(path); err != nil {
		return nil, nil, err
	}
	var doc struct {
		Streams  []reelStream    `json:"streams"`
		Chapters []probedChapter `json:"chapters"`
	}
	if err := t.ProbeInto(ctx, path, &doc, "-show_streams", "-show_data_hash", "md5", "-show_chapters"); err != nil {
		return nil, nil, err
	}
	list := make([]Chapter, len(doc.Chapters))
	for i, c := range doc.Chapters {
		list[i] = Chapter{media.Seconds(c.Start), media.Seconds(c.End), media.Tag(c.Tags, "title")}
	}
	return doc.Streams, list, nil
}
