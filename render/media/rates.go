package media

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

	"fairframe/render/pacing"
)

// common reports whether a rate is one in common use.
func common(r pacing.Rate) bool {
	known, ok := inUse(r.Hz())
	return ok && known == r
}

// fewFrames is up to how many frames a container's average may mislead by more than
// it is trusted for.
const fewFrames = 240

// rateByStamps finds the rate in common use on whose grid all stamps of a short file
// lie; zero if there is none, and for a longer one. Averages mislead where there are
// few frames: ffmpeg 7.1 takes a last packet for an instant whose container does not
// say how long it is, and so 60 frames at 60 Hz for 61.02 a second.
func (t *Tools) rateByStamps(ctx context.Context, path string, video *probedStream) (pacing.Rate, error) {
	p, err := t.probe(ctx, path, "-select_streams", strconv.Itoa(video.Index), "-show_entries", "packet=pts_time", "-read_intervals", fmt.Sprintf("%%+#%d", fewFrames))
	if err != nil {
		return pacing.Rate{}, err
	}
	if len(p.Packets) >= fewFrames {
		return pacing.Rate{}, nil
	}
	var stamps []float64
	for _, one := range p.Packets {
		at, err := strconv.ParseFloat(one.PTS, 64)
		if err != nil {
			return pacing.Rate{}, nil
		}
		stamps = append(stamps, at)
	}
	slices.Sort(stamps)
	return gridOf(stamps, video.RFrameRate), nil
}

// gridOf is the rate in common use of frames with these stamps, in seconds and in
// order: base, if they fit it, else the one nearest to their mean distance; zero if
// they fit neither. Containers that count milliseconds round.
func gridOf(stamps []float64, base string) pacing.Rate {
	n := len(stamps) - 1
	if n < 1 {
		return pacing.Rate{}
	}
	var tried []pacing.Rate
	if hz, err := fraction(base); err == nil {
		if r, ok := inUse(hz); ok {
			tried = append(tried, r)
		}
	}
	mean := float64(n) / (stamps[n] - stamps[0])
	tried = append(tried, slices.MinFunc(ratesInUse(), func(a, b pacing.Rate) int {
		return cmp.Compare(math.Abs(a.Hz()-mean), math.Abs(b.Hz()-mean))
	}))
	const rounded = 0.00101
	for _, r := range tried {
		worst := 0.0
		for k, at := range stamps {
			worst = max(worst, math.Abs(at-stamps[0]-float64(k)/r.Hz()))
		}
		if worst <= max(rounded, offGrid/r.Hz()) {
			return r
		}
	}
	return pacing.Rate{}
}
