package graph

import (
	"fmt"
	"math/big"
	"strconv"
	"time"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/render/media"
)

// sceneLength is how much of its captures a clip shows and lets be heard.
func (c *Clip) sceneLength() time.Duration {
	if c.Time.Plain() {
		return c.Rate.TimeOf(c.Frames)
	}
	return c.Time.Length()
}

// FrameAt returns the output frame, counted from the scene's first one, that is on
// screen when an instant of the scene comes.
func (c *Clip) FrameAt(scene time.Duration) int64 {
	if c.Time.Plain() {
		return c.Rate.FrameAt(scene)
	}
	return c.Time.FrameAt(scene)
}

// fadeSamples is how long sound takes to fall silent before a pause and to come
// back after it: 10 ms, which leaves no click.
const fadeSamples = media.SoundRate / 100

// pauses stops a capture's sound, which begins with the scene and passes at its
// own pace, while the scene is held: silence takes its place, and it goes on
// with the sample at which it stopped.
func (g *graph) pauses(s *ffmpeg.Stream) *ffmpeg.Stream {
	if g.clip.Time.Plain() {
		return s
	}
	holds := g.clip.Time.Holds()
	samples := func(d *big.Rat) int64 {
		v := new(big.Rat).Mul(d, big.NewRat(media.SoundRate, 1))
		return media.Floor(v.Add(v, big.NewRat(1, 2)))
	}
	at := func(i int) (sound, begin, end int64) { // of a hold, in the sound and in the clip
		h := holds[i]
		from := g.clip.Time.ClipTime(h.At)
		return samples(seconds64(h.At)), samples(from), samples(new(big.Rat).Add(from, seconds64(h.For)))
	}
	var pieces []*ffmpeg.Stream
	from := int64(0)
	n := len(holds) + 1
	branches := g.soundBranches(s, n)
	for i, b := range branches {
		if i == len(holds) {
			if from > 0 || n > 1 {
				b = g.piece(b, from, -1, i > 0)
			}
			pieces = append(pieces, b)
			break
		}
		to, begin, end := at(i)
		b = g.piece(b, from, to, i > 0)
		length := to - from
		if length > 0 {
			fade := min(fadeSamples, length)
			b = g.filter(b, "afade", "type=out", fmt.Sprintf("start_sample=%d", length-fade), fmt.Sprintf("nb_samples=%d", fade))
		}
		// Silence stands for the hold, and for what the capture lacks.
		b = g.filter(b, "apad", fmt.Sprintf("whole_len=%d", length+end-begin))
		pieces = append(pieces, b)
		from = to
	}
	if len(pieces) == 1 {
		return pieces[0]
	}
	s = g.join(pieces, "concat", fmt.Sprintf("n=%d", len(pieces)), "v=0", "a=1")
	return g.filter(s, "asetpts", "N/SR/TB")
}

// soundBranches returns n streams of one.
func (g *graph) soundBranches(s *ffmpeg.Stream, n int) []*ffmpeg.Stream {
	if n == 1 {
		return []*ffmpeg.Stream{s}
	}
	g.filters++
	node := s.ASplit()
	list := make([]*ffmpeg.Stream, n)
	for i := range list {
		list[i] = node.Get(strconv.Itoa(i) + "sound")
	}
	return list
}

// piece is the sound from one sample to another, or to its end; it fades in where
// there was a pause before it.
func (g *graph) piece(s *ffmpeg.Stream, from, to int64, in bool) *ffmpeg.Stream {
	args := []string{fmt.Sprintf("start_sample=%d", from)}
	if to >= 0 {
		args = append(args, fmt.Sprintf("end_sample=%d", to))
	}
	s = g.filter(s, "atrim", args...)
	s = g.filter(s, "asetpts", "N/SR/TB")
	if in {
		s = g.filter(s, "afade", "type=in", "start_sample=0", fmt.Sprintf("nb_samples=%d", fadeSamples))
	}
	return s
}

func seconds64(d time.Duration) *big.Rat { return big.NewRat(int64(d), int64(time.Second)) }
