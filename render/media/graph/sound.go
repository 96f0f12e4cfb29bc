package graph

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/render/media"
)

// Sound says which captures of a clip are heard, and how. The zero value is
// silence.
type Sound struct {
	Kind     SoundKind
	Inputs   []int   // indices of the inputs that are heard; Single: one, Ears: left and right
	Loudness float64 // what the clip is brought to, in LUFS; 0: untouched
}

// SoundKind is how the sound of captures becomes that of a clip.
type SoundKind int

// Kinds of sound. In all of them mono is heard on both sides, and more than two
// channels are folded to stereo first, see Track.
const (
	Silent SoundKind = iota // the clip has no sound
	Single                  // one capture's
	Mix                     // the mean of all of them, which cannot pass full scale where they do not
	Ears                    // the first on the left, the second on the right, each the mean of its two sides; -1 leaves that side silent
)

// Heard reports whether the clip has sound.
func (s Sound) Heard() bool { return s.Kind != Silent }

// Hears reports whether input i is heard.
func (s Sound) Hears(i int) bool { return slices.Contains(s.Inputs, i) }

// check compares the sound with the inputs there are.
func (s Sound) check(legs []Input) error {
	least, most := 1, len(legs)
	switch s.Kind {
	case Silent:
		least, most = 0, 0
	case Single:
		most = 1
	case Ears:
		least, most = 2, 2
	}
	if n := len(s.Inputs); n < least || n > most {
		return fmt.Errorf("media: sound of kind %d and %d captures", s.Kind, n)
	}
	for _, i := range s.Inputs {
		switch {
		case i == -1 && s.Kind == Ears:
		case i < 0 || i >= len(legs):
			return fmt.Errorf("media: sound of capture %d of %d", i, len(legs))
		case !legs[i].Capture.Audio:
			return &media.Error{Msg: fmt.Sprintf("media: capture %s has no sound", legs[i].Name), Hint: "let another capture be heard"}
		}
	}
	if s.Kind == Ears && s.Inputs[0] == -1 && s.Inputs[1] == -1 {
		return fmt.Errorf("media: sound for two ears of no capture")
	}
	return nil
}

// SamplesIn returns how many samples of the clip's sound belong to so many
// output frames.
func (c *Clip) SamplesIn(frames int64) int64 {
	return int64(math.Round(c.Rate.TimeOf(frames).Seconds() * media.SoundRate))
}

// sound puts the sound of a clip together: that of each capture on the output's
// clock, then all of them into one, ended with the picture.
func (g *graph) sound() *ffmpeg.Stream {
	c := g.clip
	var s *ffmpeg.Stream
	switch c.Sound.Kind {
	case Single:
		s = g.heard(c.Sound.Inputs[0])
	case Mix:
		s = g.mixed()
	case Ears:
		s = g.ears()
	}
	if lead := c.SamplesIn(c.Lead()); lead > 0 {
		s = g.filter(s, "adelay", fmt.Sprintf("delays=%dS", lead), "all=1")
	}
	if c.Opening != nil || c.Closing != nil {
		// The pages are silent.
		s = g.filter(s, "apad", fmt.Sprintf("whole_len=%d", c.SamplesIn(c.Total())))
	}
	if gain := g.sources.Gain; gain != 0 {
		s = g.filter(s, "volume", fmt.Sprintf("volume=%.3fdB", gain), "precision=float")
	}
	if slices.Contains(c.Delivery.Sound, "flac") {
		s = g.filter(s, "asetnsamples", fmt.Sprintf("nb_out_samples=%d", flacBlock), "pad=0")
	}
	return s
}

// flacBlock is how many samples lie in a packet of FLAC, as its coder chooses for 48 kHz.
// From ffmpeg 9 on it takes them as they come: cut into packets of a few samples, of which
// the last one is said to last as long as the first.
const flacBlock = 4608

// mixed is the mean of all that are heard.
func (g *graph) mixed() *ffmpeg.Stream {
	legs := g.clip.Sound.Inputs
	list := make([]*ffmpeg.Stream, len(legs))
	for k, i := range legs {
		list[k] = g.heard(i)
	}
	if len(list) == 1 {
		return list[0]
	}
	share := strconv.FormatFloat(1/float64(len(list)), 'f', 9, 64)
	return g.join(list, "amix", fmt.Sprintf("inputs=%d", len(list)), "duration=longest", "normalize=0", "weights="+share)
}

// ears is the first capture on the left and the second on the right.
func (g *graph) ears() *ffmpeg.Stream {
	var sides []*ffmpeg.Stream
	legs := g.clip.Sound.Inputs
	for side, i := range legs {
		if i == -1 {
			continue
		}
		mean, none := []float64{0.5, 0.5}, []float64{0, 0}
		if legs[1-side] != -1 {
			sides = append(sides, g.apply(g.heard(i), media.Pan("mono", mean)))
			continue
		}
		outputs := [][]float64{none, none}
		outputs[side] = mean
		return g.apply(g.heard(i), media.Pan("stereo", outputs...))
	}
	return g.join(sides, "join", "inputs=2", "channel_layout=stereo")
}

// exact reports whether the samples of the sound that is heard go into the clip
// as they are, but for the fades: no filter and no coder changes them.
func (g *graph) exact(t media.Track) bool {
	return !g.clip.Delivery.Lossy() && g.clip.Sound.Kind == Single && t.Rate == media.SoundRate && !t.Folded() && g.sources.Gain == 0
}

// heard takes a capture's sound from the scene's start on, to the sample, as
// stereo, fills with silence what the capture lacks, and ends with the picture.
// Each capture that is heard is an input of its own, because its sound may have
// to be read from a place before that of its picture.
func (g *graph) heard(i int) *ffmpeg.Stream {
	c, l := g.clip, g.clip.Inputs[i]
	s := g.input(i, g.sources.Sound[i], len(c.Inputs)+i).Get("a:0")
	// Floats, so that nothing is rounded or clipped on the way.
	samples := "fltp"
	if g.exact(l.Capture.Track) {
		samples = "s16|s32|fltp"
	}
	s = g.apply(s, l.Capture.SoundFilters(l.Start, c.sceneLength()+media.SoundTail, media.SoundRate)...)
	s = g.apply(s, l.Capture.Track.Format(samples))
	s = g.apply(s, l.Capture.Track.ToStereo()...)
	s = g.pauses(s)
	ends := c.SamplesIn(c.Frames)
	s = g.filter(s, "apad")
	s = g.filter(s, "atrim", fmt.Sprintf("end_sample=%d", ends))
	length := min(int64(media.SoundFade.Seconds()*media.SoundRate), ends/2)
	s = g.filter(s, "afade", "type=in", "start_sample=0", fmt.Sprintf("nb_samples=%d", length))
	s = g.filter(s, "afade", "type=out", fmt.Sprintf("start_sample=%d", ends-length), fmt.Sprintf("nb_samples=%d", length))
	return s
}
