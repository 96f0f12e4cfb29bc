package deck

import (
	"image"
	"math"
	"slices"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/pacing"
)

// refreshes returns n 60 Hz refresh intervals as a time.
func refreshes(n int) time.Duration { return pacing.Rate{Num: 60, Den: 1}.TimeOf(int64(n)) }

// noise is a small fixed sequence of numbers in [0,1), for traces that waver.
type noise uint32

func (n *noise) next() float64 {
	*n = *n*1664525 + 1013904223
	return float64(*n>>8) / (1 << 24)
}

// madeUp builds a trace of whole refreshes: steps gives how many each next
// frame stays, asked with its index and its first refresh.
func madeUp(t testing.TB, total int, steps func(i, at int) int) *pacing.Trace {
	t.Helper()
	var frames []pacing.Frame
	for i, at := 0, 0; at < total; i++ {
		n := steps(i, at)
		frames = append(frames, pacing.Frame{Begin: refreshes(at), Time: refreshes(at+n) - refreshes(at)})
		at += n
	}
	return trace(t, frames)
}

func trace(t testing.TB, frames []pacing.Frame) *pacing.Trace {
	t.Helper()
	tr, err := pacing.NewTrace(frames)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// locked runs at 60 and falls to a lock at 30 from 3 s to 7 s.
func locked(t testing.TB, total int) *pacing.Trace {
	return madeUp(t, total, func(_, at int) int {
		if at >= 180 && at < 420 {
			return 2
		}
		return 1
	})
}

// wavering alternates between one and two refreshes and hitches for 100 ms.
func wavering(t testing.TB, total int) *pacing.Trace {
	n := noise(7)
	next := 290
	return madeUp(t, total, func(i, at int) int {
		if at >= next {
			next += 230
			return 6
		}
		if math.Sin(float64(at)/80) > -0.3 && n.next() < 0.45 {
			return 2
		}
		return 1
	})
}

// unlocked runs between 40 and 58 frames a second without v-sync and tears.
func unlocked(t testing.TB, total int) *pacing.Trace {
	n := noise(3)
	var frames []pacing.Frame
	for at, end := time.Duration(0), refreshes(total); at < end; {
		fps := 49 + 7*math.Sin(at.Seconds()*0.9) + 2*(n.next()-0.5)
		d := time.Duration(float64(time.Second) / fps)
		frames = append(frames, pacing.Frame{Begin: at, Time: d, Tear: 1 + int(n.next()*1000)})
		at += d
	}
	return trace(t, frames)
}

// steady keeps to 20 frames a second, but for a stretch at 30.
func steady(t testing.TB, total int) *pacing.Trace {
	return madeUp(t, total, func(_, at int) int {
		if at >= 300 && at < 390 {
			return 2
		}
		return 3
	})
}

// demo returns settings of a 12 s scene that begins 1 s into its captures.
func demo(t testing.TB, size image.Point, captures int, place layout.Place) Settings {
	t.Helper()
	return demoOf(t, layout.Spec{Size: size, Captures: captures, Place: place, Tabs: true, Caption: true}, 720)
}

func demoOf(t testing.TB, spec layout.Spec, frames int) Settings {
	t.Helper()
	sc, err := layout.Solve(spec)
	if err != nil {
		t.Fatal(err)
	}
	total := frames + 90
	alder := Base{Name: "Alder", Raster: image.Pt(1408, 792)}
	all := []Capture{
		{Name: "Alder", Detail: "quality mode", Raster: image.Pt(1408, 792), Trace: locked(t, total)},
		{Name: "Birch", Raster: image.Pt(1920, 1080), Base: alder, Note: "3x, true pixels", Trace: wavering(t, total)},
		{Name: "Cedar", Raster: image.Pt(1664, 936), Base: alder, Trace: unlocked(t, total)},
		{Name: "Dogwood", Detail: "steady mode", Raster: image.Pt(1280, 720), Base: alder, Trace: steady(t, total)},
	}
	for i := range all {
		all[i].Start = time.Second
	}
	return Settings{
		Screen:   sc,
		Captures: all[:spec.Captures],
		Caption:  "Launch from the north ridge, clear sky",
		Rate:     pacing.Rate{Num: 60, Den: 1},
		Frames:   frames,
	}
}

func newDeck(t testing.TB, s Settings) *Deck {
	t.Helper()
	d, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// withStill replaces what is on screen from 2.83 s by a still stretch of 0.67 s.
func withStill(t testing.TB, tr *pacing.Trace) *pacing.Trace {
	begin, end := refreshes(170), refreshes(210)
	var frames []pacing.Frame
	for _, f := range tr.Frames() {
		if f.Begin == begin {
			frames = append(frames, pacing.Frame{Begin: begin, Time: end - begin, Kind: pacing.Still})
		}
		if f.Begin < begin || f.Begin >= end {
			frames = append(frames, f)
		}
	}
	return trace(t, frames)
}

// withDoubt marks frames of every capture as doubtful: single ones, a few in a
// row, and one that is longer than the axis.
func withDoubt(t testing.TB, tr *pacing.Trace) *pacing.Trace {
	frames := slices.Clone(tr.Frames())
	for i := range frames {
		frames[i].Doubtful = i%11 == 0 || i%40 < 5 || frames[i].Time > refreshes(4)
	}
	return trace(t, frames)
}

// atLimit says of every frame of up to two refreshes that the capture could show no
// more.
func atLimit(t testing.TB, tr *pacing.Trace) *pacing.Trace {
	frames := slices.Clone(tr.Frames())
	for i := range frames {
		frames[i].Ceiling = frames[i].Time <= refreshes(2)
	}
	return trace(t, frames)
}

// withGap leaves out what is on screen from 3.5 s to 4.5 s.
func withGap(t testing.TB, tr *pacing.Trace) *pacing.Trace {
	return trace(t, slices.DeleteFunc(slices.Clone(tr.Frames()), func(f pacing.Frame) bool { return f.Begin >= refreshes(210) && f.Begin < refreshes(270) }))
}
