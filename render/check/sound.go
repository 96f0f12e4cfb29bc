package check

import (
	"fmt"
	"math"
	"time"
)

// Ear listens to interleaved samples, full scale ±1, in constant memory.
type Ear struct {
	channels, rate int
	frames         int64 // instants heard
	squares        float64
	peak           float64
	left, right    float64 // sums of squares
	cross          float64 // sum of products
	sum            float64 // sum of squares of left and right mixed
	run            []int   // of samples at full scale, a channel
	clips          int
	firstClip      time.Duration
}

// NewEar returns an Ear for sound of so many channels and samples a second.
func NewEar(channels, rate int) *Ear {
	return &Ear{channels: channels, rate: rate, run: make([]int, channels)}
}

const (
	// fullScale is where a converter ends, less what dither and lossy coding take.
	fullScale = 0.999
	// clipRun is how many samples in a row at full scale are a flat top rather
	// than a peak (common practice).
	clipRun = 3
	// quiet is the RMS level, in dBFS, below which nothing is heard in play.
	quiet = -60
	// opposed is the correlation of left and right from which they cancel more
	// than they add (0: unrelated, -1: one is the other upside down).
	opposed = -0.5
)

// Hear takes whole instants of interleaved samples.
func (e *Ear) Hear(samples []float32) {
	for i := 0; i+e.channels <= len(samples); i += e.channels {
		for ch := range e.channels {
			v := float64(samples[i+ch])
			e.squares += v * v
			a := math.Abs(v)
			e.peak = max(e.peak, a)
			if a < fullScale {
				e.run[ch] = 0
				continue
			}
			if e.run[ch]++; e.run[ch] == clipRun {
				if e.clips == 0 {
					e.firstClip = time.Duration(float64(e.frames) / float64(e.rate) * float64(time.Second))
				}
				e.clips++
			}
		}
		if e.channels >= 2 {
			l, r := float64(samples[i]), float64(samples[i+1])
			e.left += l * l
			e.right += r * r
			e.cross += l * r
			e.sum += (l + r) * (l + r) / 4
		}
		e.frames++
	}
}

// Sound judges what was heard of a stretch that begins at from and should last
// length.
func (e *Ear) Sound(from, length time.Duration) []Finding {
	if e.frames == 0 {
		return []Finding{Finding{Severity: Misleads, What: "no sound in the scene",
			Evidence: "its sound track holds nothing there",
			Remedy:   "choose another stretch or another capture for audio:"}.AtTime(from)}
	}
	var list []Finding
	have := time.Duration(float64(e.frames) / float64(e.rate) * float64(time.Second))
	if have < length-100*time.Millisecond {
		list = append(list, Finding{Severity: Misleads, What: "the sound is shorter than the scene",
			Evidence: fmt.Sprintf("%.2f s of %.2f s", have.Seconds(), length.Seconds()),
			Remedy:   "the rest will be silent; choose another stretch or record again"}.AtTime(from))
	}
	level := 10 * math.Log10(e.squares/float64(e.frames*int64(e.channels)))
	if level < quiet {
		return append(list, Finding{Severity: Misleads, What: "the sound is silent",
			Evidence: fmt.Sprintf("RMS level %s dBFS, peak %s dBFS",
				decibels(level), decibels(20*math.Log10(e.peak))),
			Remedy: "check the recorder's input, or choose another capture for audio:"}.AtTime(from))
	}
	if e.clips > 0 {
		list = append(list, Finding{Severity: Misleads, What: "the sound is clipped",
			Evidence: fmt.Sprintf("%d flat tops of %d or more samples at full scale", e.clips, clipRun),
			Remedy:   "record again at a lower level; nothing restores what was cut off"}.AtTime(from+
			e.firstClip))
	}
	if both := math.Sqrt(e.left * e.right); both > 0 {
		if r := e.cross / both; r < opposed {
			loss := 10 * math.Log10(2*e.sum/(e.left+e.right))
			list = append(list, Finding{Severity: Misleads, What: "left and right are out of phase",
				Evidence: fmt.Sprintf("correlation %.2f; heard in mono the sound loses %s dB",
					r, decibels(-loss)),
				Remedy: "turn one channel over, or record again: " +
					"on a single loudspeaker it nearly vanishes"}.AtTime(from))
		}
	}
	return list
}

// decibels prints a level, which is below all measure where nothing is.
func decibels(v float64) string {
	switch {
	case math.IsInf(v, -1):
		return "-inf"
	case math.IsInf(v, 1):
		return "all"
	}
	return fmt.Sprintf("%.1f", v)
}
