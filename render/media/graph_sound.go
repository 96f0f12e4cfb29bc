package media

import (
	"fmt"
	"math"
	"strconv"
	"time"

	ffmpeg "github.com/u2takey/ffmpeg-go"
)

// soundRate is the sample rate of every clip's sound.
const soundRate = 48000

// Sound says which captures of a clip are heard, and how. The zero value is
// silence.
type Sound struct {
	Kind SoundKind
	Legs []int // indices of the legs that are heard; Alone: one, Ears: left and right
}

// SoundKind is how the sound of captures becomes that of a clip.
type SoundKind int

// Kinds of sound.
const (
	Silent SoundKind = iota // the clip has no sound
	Alone                   // one capture's
	Mix                     // the mean of all of them
	Ears                    // the first on the left, the second on the right, each folded to mono; -1 leaves that side silent
)

// heard reports whether the clip has sound.
func (s Sound) heard() bool { return s.Kind != Silent }

// check compares the sound with the legs there are.
func (s Sound) check(legs []Leg) error {
	least, most := 1, len(legs)
	switch s.Kind {
	case Silent:
		least, most = 0, 0
	case Alone:
		most = 1
	case Ears:
		least, most = 2, 2
	}
	if n := len(s.Legs); n < least || n > most {
		return fmt.Errorf("media: sound of kind %d and %d captures", s.Kind, n)
	}
	for _, i := range s.Legs {
		switch {
		case i == -1 && s.Kind == Ears:
		case i < 0 || i >= len(legs):
			return fmt.Errorf("media: sound of capture %d of %d", i, len(legs))
		case !legs[i].Capture.Audio:
			return &Error{Msg: fmt.Sprintf("media: capture %s has no sound", legs[i].Name), Hint: "let another capture be heard"}
		}
	}
	return nil
}

// sound puts the sound of a clip together: that of each capture on the output's
// clock, then all of them into one, ended with the picture.
func (g *graph) sound(captures []*ffmpeg.Stream) *ffmpeg.Stream {
	c := g.clip
	legs := make([]*ffmpeg.Stream, len(c.Sound.Legs))
	for k, i := range c.Sound.Legs {
		legs[k] = g.heard(captures[i].Get("a:0"), i)
	}
	s := legs[0]
	if lead := g.samples(c.Lead()); lead > 0 {
		// The sound begins with the scene, without a click; the page is silent.
		s = g.filter(s, "afade", "type=in", "start_sample=0", fmt.Sprintf("nb_samples=%d", soundRate/100))
		s = g.filter(s, "adelay", fmt.Sprintf("delays=%dS", lead), "all=1")
	}
	s = g.filter(s, "apad")
	return g.filter(s, "atrim", fmt.Sprintf("end_sample=%d", g.samples(c.Total())))
}

// samples returns how many samples belong to so many output frames.
func (g *graph) samples(frames int64) int64 {
	return int64(math.Round(g.clip.Rate.TimeOf(frames).Seconds() * soundRate))
}

// heard takes a capture's sound from the scene's start on, to the sample, and
// fills with silence what the capture lacks.
func (g *graph) heard(s *ffmpeg.Stream, i int) *ffmpeg.Stream {
	l := g.clip.Legs[i]
	from := l.Capture.first + l.Start.Seconds()
	length := g.clip.Rate.TimeOf(g.clip.Frames)
	start := strconv.FormatFloat(from, 'f', 9, 64)
	end := strconv.FormatFloat(from+length.Seconds()+tail.Seconds(), 'f', 9, 64)
	s = g.filter(s, "atrim", "start="+start, "end="+end)
	s = g.filter(s, "asetpts", "round(PTS-("+start+")/TB)")
	s = g.filter(s, "aresample", strconv.Itoa(soundRate), "async=1", "first_pts=0")
	s = g.filter(s, "aformat", "sample_fmts=s16|fltp|s32", "channel_layouts=stereo")
	if g.clip.Closing != nil {
		// The sound ends with the scene, without a click; the page is silent.
		heard, fade := g.samples(g.clip.Frames), int64(soundRate/100)
		s = g.filter(s, "atrim", fmt.Sprintf("end_sample=%d", heard))
		s = g.filter(s, "afade", "type=out", fmt.Sprintf("start_sample=%d", max(0, heard-fade)), fmt.Sprintf("nb_samples=%d", fade))
	}
	return s
}

// tail is how much sound beyond the end is read, for the resampler's delay.
const tail = 100 * time.Millisecond
