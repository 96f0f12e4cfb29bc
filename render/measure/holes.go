package measure

import (
	"fmt"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// holesOf returns the holes of a capture's stretch; to 0: to its end.
func holesOf(c media.Capture, from, to time.Duration) []media.Hole {
	if to == 0 {
		to = c.Duration()
	}
	return c.Holes(from, to)
}

// A recorder either drops pictures, which it should not, or leaves repeated ones out.
// It is taken to leave them out where holes are many, and repeated pictures few beside
// them: a recorder that keeps repeats shows some wherever a game misses a refresh. A
// game that holds the refresh shows none; few holes in it are taken for dropped
// pictures, since a frame that was dropped must not pass for a hitch of the game.
const (
	leastLeftOut = 0.05 // of the grid's places are holes
	mostRepeated = 0.2  // repeated pictures for each missing one
)

// settleHoles says of the holes in a capture's grid what they are. Where the recorder
// dropped pictures, it cuts the frames that held are on screen there short: when they
// ended, and when the next one began, is not known, unless the pictures on both sides
// are the same.
func (s *Summary) settleHoles(c media.Capture, holes []media.Hole, held []pacing.Frame) []pacing.Frame {
	if len(holes) == 0 {
		return held
	}
	var missing int64
	for _, h := range holes {
		missing += h.Pictures
	}
	if float64(missing) >= leastLeftOut*float64(missing+s.Captured) && float64(s.Repeated) <= mostRepeated*float64(missing) {
		s.LeftOut = true
		s.Warnings = append(s.Warnings, fmt.Errorf("measure: the recorder leaves out repeated pictures (%d places of the %s Hz grid, with %d repeated pictures among %d); how long a picture was on screen is the step from its stamp to the next",
			missing, c.Rate, s.Repeated, s.Captured))
		return held
	}
	var out []pacing.Frame
	k := 0
	for i, f := range held {
		for k < len(holes) && holes[k].To <= f.Begin {
			k++
		}
		// The next one, if it begins in the first picture after the hole.
		cut := -1
		for j := k; j < len(holes) && holes[j].From < f.End(); j++ {
			if holes[j].From > f.Begin && f.End() >= holes[j].To && f.End() < holes[j].To+c.Rate.TimeOf(1) {
				cut = j
			}
		}
		if cut >= 0 && i+1 < len(held) {
			h := holes[cut]
			s.Gaps++
			s.Dropped += h.Pictures
			s.Gap += f.End() - h.From
			if f.Kind == pacing.Normal && !f.Doubtful {
				s.Doubtful++
			}
			if next := &held[i+1]; next.Kind == pacing.Normal && !next.Doubtful {
				s.Doubtful++
				next.Doubtful = true
			}
			was := f.Time
			f.Time, f.Doubtful, f.Ceiling = h.From-f.Begin, true, false
			if f.Kind == pacing.Still {
				s.Still -= was - f.Time
				if f.Time < StillAfter {
					f.Kind = pacing.Normal
					s.Stills, s.Still, s.Frames, s.Doubtful = s.Stills-1, s.Still-f.Time, s.Frames+1, s.Doubtful+1
				}
			}
		}
		out = append(out, f)
	}
	if s.Gaps > 0 {
		s.Warnings = append(s.Warnings, fmt.Errorf("measure: the recorder dropped %d pictures in %d places, %.3f s in all, in which a new frame began; the log has gaps there, since nobody knows when",
			s.Dropped, s.Gaps, s.Gap.Seconds()))
	}
	return out
}
