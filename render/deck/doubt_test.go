package deck

import (
	"strings"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/pacing"
)

// What the deck says of doubt follows the trace that it draws: the tab says that the
// pacing is uncertain above 5 % of the scene, and readout and line at the instants
// whose window rests on doubtful frames.
func TestDoubtIsShown(t *testing.T) {
	for _, one := range []struct {
		doubtful  int // refreshes from 4 s on
		uncertain bool
	}{{0, false}, {30, false}, {36, false}, {48, true}} {
		s := demo(t, hd(), 2, layout.Below)
		frames := madeUp(t, 900, func(int, int) int { return 1 }).Frames()
		marked := append([]pacing.Frame(nil), frames...)
		for i := range marked {
			marked[i].Doubtful = marked[i].Begin >= 4*time.Second && marked[i].Begin < 4*time.Second+refreshes(one.doubtful)
		}
		s.Captures[1].Trace = trace(t, marked)
		d := newDeck(t, s)
		words, _ := d.setTab(1, d.Screen.Tabs[1])
		var said []string
		for _, w := range words {
			said = append(said, w.text)
		}
		if got := strings.Contains(strings.Join(said, " "), "pacing uncertain"); got != one.uncertain {
			t.Errorf("%d doubtful refreshes of 720: the tab says %q", one.doubtful, said)
		}
		// The whole trace holds 60, one span: the window is the second before.
		for k := 0; k < d.Frames; k++ {
			in := 0
			for j := k; j < k+60; j++ { // refreshes of the capture before 1 s + k
				if j >= 240 && j < 240+one.doubtful {
					in++
				}
			}
			want := plainRate
			if in > 3 { // of 60
				want = doubtfulRate
			}
			if got := d.stateAt(1, d.sceneTime(k)); got != want {
				t.Fatalf("%d doubtful refreshes, frame %d, %d in its window: state %v, want %v", one.doubtful, k, in, got, want)
			}
		}
		if got := strings.Contains(d.lineTitle(0), "thin: doubtful"); got != (one.doubtful > 0) {
			t.Errorf("%d doubtful refreshes: %q", one.doubtful, d.lineTitle(0))
		}
	}
}

// The line breaks where the log has a gap, and the readout shows a dash there, by
// spans and trailing.
func TestGapHasNoRate(t *testing.T) {
	for _, trailing := range []bool{false, true} {
		s := demo(t, hd(), 2, layout.Below)
		s.Trailing = trailing
		s.Captures[1].Trace = withGap(t, locked(t, 900))
		d := newDeck(t, s)
		for k := range d.Frames {
			rate, ft := d.readoutText(1, k)
			gap := k >= 150 && k < 210
			if k == 150 {
				continue // where a stamp may be late, either will do
			}
			if (rate == unknown) != gap || (ft == unknown) != gap {
				t.Errorf("trailing %v, frame %d: %s fps, %s ms", trailing, k, rate, ft)
			}
		}
		bare := d.Screen.Line.Area
		y := func(k int) int { // rows of the column that have the second capture's colour
			n := 0
			p := frame(d, d.Frames-1)
			x := int(d.lineX(float64(k)))
			for row := bare.Min.Y; row < bare.Max.Y; row++ {
				if p.y[row*p.w+x] == encode(capture[1]).y {
					n++
				}
			}
			return n
		}
		inGap, seen := 0, 0
		for k := range 50 {
			inGap += y(155 + k)
			seen += y(600 + k)
		}
		if inGap > 0 || seen == 0 {
			t.Errorf("trailing %v: %d pixels of line in the gap, %d of as many columns elsewhere", trailing, inGap, seen)
		}
	}
}
