package check

import (
	"fmt"
	"time"
)

// Shown watches small pictures of a scene for what is not play: black, and
// pictures that stand still.
type Shown struct {
	before       []byte
	begun        bool
	black, still stretch
}

// stretch is how long something lasts, and the longest it did.
type stretch struct {
	on            bool
	since         time.Duration
	from, longest time.Duration
}

func (s *stretch) see(on bool, begin, end time.Duration) {
	if !on {
		s.on = false
		return
	}
	if !s.on {
		s.on, s.since = true, begin
	}
	if d := end - s.since; d > s.longest {
		s.from, s.longest = s.since, d
	}
}

const (
	// blackMean is the mean of R'G'B', of 255, below which a picture is black.
	blackMean = 4
	// blackFor is how long black must last: longer than a cut.
	blackFor = 200 * time.Millisecond
	// stillFor is how long a picture must stand still to look like a pause or a
	// loading screen.
	stillFor = time.Second
)

// Add takes the packed picture on screen from begin to end, scene time.
func (s *Shown) Add(begin, end time.Duration, rgb []byte) {
	sum, same := 0, s.begun
	for i, v := range rgb {
		sum += int(v)
		if same {
			if d := int(v) - int(s.before[i]); d > 1 || d < -1 {
				same = false
			}
		}
	}
	black := sum < blackMean*len(rgb)
	s.black.see(black, begin, end)
	if same {
		s.still.see(true, begin, end)
	} else {
		s.still.see(false, begin, end)
		s.before = append(s.before[:0], rgb...)
	}
	s.begun = true
}

// Findings returns what was seen; start is the scene's start in capture time.
func (s *Shown) Findings(start time.Duration) []Finding {
	var list []Finding
	if s.black.longest >= blackFor {
		list = append(list, Finding{Severity: Misleads, What: "the scene overlaps black",
			Evidence: fmt.Sprintf("black for %.2f s, from %.2f s of the scene",
				s.black.longest.Seconds(), s.black.from.Seconds()),
			Remedy: "start the scene later or shorten it, unless the black belongs to it"}.AtTime(start+
			s.black.from))
	}
	if s.still.longest >= stillFor && s.still.longest > s.black.longest+stillFor/4 {
		list = append(list, Finding{Severity: Note, What: "the picture stands still",
			Evidence: fmt.Sprintf("no change for %.2f s, from %.2f s of the scene",
				s.still.longest.Seconds(), s.still.from.Seconds()),
			Remedy: "a loading screen, a menu or a pause? choose another stretch, unless it belongs " +
				"to the scene"}.AtTime(start+s.still.from))
	}
	return list
}
