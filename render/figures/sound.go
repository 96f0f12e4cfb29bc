package figures

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/scene"
)

// Sound are the numbers behind the sound of a capture in a scene.
type Sound struct {
	Track    media.Track
	Heard    time.Duration    // how much of the scene has sound
	Loudness deliver.Loudness // of the channels as recorded
	Levels   []float64        // dB in each of Bands, folded to stereo
}

// Measured reports whether there is enough sound for an integrated loudness.
func (s *Sound) Measured() bool { return !math.IsInf(s.Loudness.Integrated, 0) }

// shortTerm is the window of short-term loudness, of which a range needs some
// (EBU Tech 3342).
const shortTerm = 3 * time.Second

// Ranged reports whether there is enough sound for a loudness range.
func (s *Sound) Ranged() bool { return s.Measured() && s.Heard > shortTerm }

// SoundDifference is one capture's sound minus another's. What cannot be compared
// is NaN.
type SoundDifference struct {
	Integrated, Range, TruePeak float64   // LU, LU, dB
	Levels                      []float64 // dB in each of Bands
	Chance                      []float64 // dB, see Chance
}

// faint is how far below a capture's loudest band, in dB, a band is not told from
// what the loud ones leave there, because the scene begins and ends somewhere. Below
// empty, on its own, lie a recorder's noise and rounding (choices of this program).
const (
	faint = 60
	empty = -90
)

// tells reports whether a band of the sound says something.
func (s *Sound) tells(band int) bool {
	return s.Levels[band] > max(empty, slices.Max(s.Levels)-faint)
}

// compareSound returns b minus a.
func compareSound(a, b *Sound) *SoundDifference {
	minus := func(is bool, v, w float64) float64 {
		if !is || math.IsInf(v, 0) || math.IsInf(w, 0) {
			return math.NaN()
		}
		return v - w
	}
	d := &SoundDifference{
		Integrated: minus(true, b.Loudness.Integrated, a.Loudness.Integrated),
		Range:      minus(a.Ranged() && b.Ranged(), b.Loudness.Range, a.Loudness.Range),
		TruePeak:   minus(true, b.Loudness.TruePeak, a.Loudness.TruePeak),
	}
	for i, band := range Bands() {
		d.Levels = append(d.Levels, minus(a.tells(i) || b.tells(i), b.Levels[i], a.Levels[i]))
		d.Chance = append(d.Chance, Chance(band, min(a.Heard, b.Heard).Seconds()))
	}
	return d
}

// listen adds the figures of the sound, of all captures at once. Memory does not
// grow with the scene.
func listen(ctx context.Context, p *scene.Project, f *Scene, takes []scene.Take) error {
	errs := make([]error, len(takes))
	var wg sync.WaitGroup
	for i, c := range takes {
		if !c.Probed.Audio {
			continue
		}
		wg.Go(func() {
			meter := NewMeter(media.SoundRate)
			loudness, err := deliver.Listen(ctx, p.Tools, c.Probed, c.Start, f.Scene.Length,
				func(samples []float32) error {
					meter.Hear(samples)
					return nil
				})
			if err != nil {
				errs[i] = fmt.Errorf("capture %s: %w", c.Key, err)
				return
			}
			heard := time.Duration(float64(meter.Heard()) / media.SoundRate * float64(time.Second))
			f.Captures[i].Sound = &Sound{Track: c.Probed.Track, Heard: heard, Loudness: loudness,
				Levels: meter.Levels()}
		})
	}
	wg.Wait()
	for i, err := range errs {
		if err != nil {
			return err
		}
		if first, one := f.Captures[0].Sound, f.Captures[i].Sound; i > 0 && first != nil && one != nil {
			f.Captures[i].SoundDifference = compareSound(first, one)
		}
	}
	return nil
}
