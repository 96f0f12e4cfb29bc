package media

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"fairframe/render/pacing"
)

// packet is one coded picture as a container holds it.
type packet struct {
	frame float64 // its stamp in frames
	hash  string  // of its bytes, and how many they are
}

// packets tells of each packet of one of a file's streams, such as v:0, in coding
// order, without decoding any.
func (t *Tools) packets(ctx context.Context, path, stream string, r pacing.Rate, each func(packet) error) error {
	args := append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, guard()...)
	args = append(args,
		"-i", fileURL(path), "-map", "0:"+stream, "-c", "copy", "-f", "framehash", "-hash", "md5", "pipe:1")
	return t.run(ctx, process{program: t.FFmpeg, args: args, what: fmt.Sprintf("media: reading %s failed", path),
		stdout: func(rd io.Reader) error {
			unit := 0.0
			for lines := bufio.NewScanner(rd); ; {
				if !lines.Scan() {
					return lines.Err()
				}
				text := lines.Text()
				if base, ok := strings.CutPrefix(text, "#tb 0: "); ok {
					num, den, _ := strings.Cut(strings.TrimSpace(base), "/")
					n, err1 := strconv.ParseFloat(num, 64)
					d, err2 := strconv.ParseFloat(den, 64)
					if err1 != nil || err2 != nil || d == 0 {
						return fmt.Errorf("media: time base %q", base)
					}
					unit = n / d
				}
				if strings.HasPrefix(text, "#") {
					continue
				}
				// stream, dts, pts, duration, size, hash
				fields := strings.Split(text, ",")
				if len(fields) < 6 {
					return fmt.Errorf("media: packet %q", text)
				}
				pts, err := strconv.ParseFloat(strings.TrimSpace(fields[2]), 64)
				if err != nil {
					return fmt.Errorf("media: packet %q", text)
				}
				one := packet{pts * unit * r.Hz(), strings.TrimSpace(fields[4]) + " " + strings.TrimSpace(fields[5])}
				if err := each(one); err != nil {
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
func (t *Tools) samePackets(ctx context.Context, r *Reel, reel string) ([]string, error) {
	var wrong []string
	add := func(h io.Writer, n int64, p packet) { fmt.Fprintln(h, n, p.hash) }
	clips, joined := sha256.New(), sha256.New()
	base := int64(0)
	for _, part := range r.Parts {
		count := int64(0)
		// Where the first picture's stamp lies is the container's affair. It is that of
		// the first packet: no encoder begins with pictures shown before its first.
		first := 0.0
		err := t.packets(ctx, part.Path, "v:0", r.Rate, func(p packet) error {
			if count == 0 {
				first = p.frame
			}
			add(clips, base+int64(math.Round(p.frame-first)), p)
			count++
			return nil
		})
		if err != nil {
			return nil, err
		}
		if count != part.Frames {
			wrong = append(wrong, fmt.Sprintf("clip %s has %s instead of %d", part.Name, frames(count), part.Frames))
		}
		base += part.Frames
	}
	count, worst, least := int64(0), 0.0, math.Inf(1)
	err := t.packets(ctx, reel, "v:0", r.Rate, func(p packet) error {
		n := math.Round(p.frame)
		worst = math.Max(worst, math.Abs(p.frame-n))
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
		wrong = append(wrong, fmt.Sprintf("%s instead of %d", frames(count), r.Total()))
	case hex.EncodeToString(clips.Sum(nil)) != hex.EncodeToString(joined.Sum(nil)):
		wrong = append(wrong, "its pictures are not those of the clips at their places")
	}
	if worst > offGrid || least != 0 {
		wrong = append(wrong, fmt.Sprintf("its stamps are off by up to %.2f frames, the first is %.0f", worst, least))
	}
	return wrong, nil
}

// Timing tells in words how a clip's stamps differ from those of n frames at rate
// r, one after the other, with sound that begins and ends with them; "" if they do
// not. A clip whose coded pictures are untouched may still be shown faster, slower
// or in another order, and its sound may have been moved.
func (t *Tools) Timing(ctx context.Context, path string, r pacing.Rate, n int64, sound bool) (string, error) {
	first, last, count := math.Inf(1), math.Inf(-1), int64(0)
	var stamps []float64
	err := t.packets(ctx, path, "v:0", r, func(p packet) error {
		if first = math.Min(first, p.frame); count < n {
			stamps = append(stamps, p.frame)
		}
		count++
		return nil
	})
	if err != nil {
		return "", err
	}
	if count != n {
		return fmt.Sprintf("it has %s instead of %d", frames(count), n), nil
	}
	slices.Sort(stamps)
	for k, at := range stamps {
		if math.Abs(at-first-float64(k)) > offGrid {
			return fmt.Sprintf("its frame %d is shown after %.3f s instead of %.3f s", k, (at-first)/r.Hz(), float64(k)/r.Hz()), nil
		}
	}
	if !sound {
		return "", nil
	}
	begin := math.Inf(1)
	err = t.packets(ctx, path, "a:0", r, func(p packet) error {
		begin, last = math.Min(begin, p.frame), math.Max(last, p.frame)
		return nil
	})
	// A coder's run-up is two packets at most, and the last packet begins some before
	// the end.
	const most = 0.1
	from, to := (begin-first)/r.Hz(), (last-first-float64(n))/r.Hz()
	if err == nil && (from < -most || from > offGrid/r.Hz() || to < -most || to > 0) {
		return fmt.Sprintf("its sound begins %+.3f s and ends about %+.3f s from where the picture does", from, to), nil
	}
	return "", err
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
func (t *Tools) Chapters(ctx context.Context, path string) ([]Chapter, error) {
	_, chapters, err := t.reelStreams(ctx, path)
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
func (t *Tools) reelStreams(ctx context.Context, path string) ([]reelStream, []Chapter, error) {
	if err := readable(path); err != nil {
		return nil, nil, err
	}
	var doc struct {
		Streams  []reelStream    `json:"streams"`
		Chapters []probedChapter `json:"chapters"`
	}
	if err := t.probeInto(ctx, path, &doc, "-show_streams", "-show_data_hash", "md5", "-show_chapters"); err != nil {
		return nil, nil, err
	}
	list := make([]Chapter, len(doc.Chapters))
	for i, c := range doc.Chapters {
		list[i] = Chapter{seconds(c.Start), seconds(c.End), tag(c.Tags, "title")}
	}
	return doc.Streams, list, nil
}

// probeInto reads what ffprobe says of a file.
func (t *Tools) probeInto(ctx context.Context, path string, into any, what ...string) error {
	args := slices.Concat([]string{"-hide_banner", "-v", "level+error"}, guard(), []string{"-print_format", "json"}, what)
	var out strings.Builder
	err := t.run(ctx, process{program: t.FFprobe, args: append(args, fileURL(path)), stdout: readAllInto(&out),
		what: fmt.Sprintf("media: %s cannot be opened as a video", path)})
	if err != nil {
		return err
	}
	if err := json.Unmarshal([]byte(out.String()), into); err != nil {
		return fmt.Errorf("media: ffprobe on %s: %w", path, err)
	}
	return nil
}
