package deck

import (
	"fmt"
	"image"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/pacing"
)

// TestNotesKeepApart places many notes at random: no two that are on screen at one
// time overlap, unless a warning says so, and notes of different times may.
func TestNotesKeepApart(t *testing.T) {
	set, err := fonts.New()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(11, 5))
	warned := 0
	for range 60 {
		size := screens[rng.IntN(len(screens))].Mul(2)
		s := MarkSettings{Size: size, Area: image.Rectangle{Max: size}, Fonts: set}
		for i := range 2 + rng.IntN(5) {
			m := Mark{Shape: Shape(rng.IntN(3)), Note: fmt.Sprintf("Note %d here", i)}
			m.X0, m.Y0 = rng.Float64()*float64(size.X), rng.Float64()*float64(size.Y)
			m.X1, m.Y1 = m.X0+5+rng.Float64()*60, m.Y0+5+rng.Float64()*60
			if rng.IntN(2) == 0 {
				m.From, m.To = int64(rng.IntN(5)), int64(5+rng.IntN(5))
			}
			s.Marks = append(s.Marks, m)
		}
		m, err := NewMarks(s)
		if err != nil {
			t.Fatal(err)
		}
		for i, a := range m.drawn {
			if !a.plate.Empty() && !a.plate.In(m.free) {
				t.Errorf("%v: note %d at %v leaves %v", size, i, a.plate, m.free)
			}
			for j, b := range m.drawn[:i] {
				if a.plate.Overlaps(b.plate) && a.meets(b.Mark) {
					warned++
					if !strings.Contains(strings.Join(m.Warnings(), "\n"), fmt.Sprintf("%q covers another note", a.Note)) {
						t.Errorf("%v: notes %d and %d are at %v and %v, in silence", size, j, i, b.plate, a.plate)
					}
				}
			}
		}
	}
	if warned > 3 {
		t.Errorf("%d notes lie over others", warned)
	}
	apart := MarkSettings{Size: image.Pt(640, 360), Area: image.Rect(0, 0, 640, 360), Fonts: set, Marks: []Mark{
		{Shape: Note, X0: 300, Y0: 200, Note: "Before", To: 5}, {Shape: Note, X0: 300, Y0: 200, Note: "Later!", From: 5, To: 9},
	}}
	m, err := NewMarks(apart)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := m.drawn[0].plate, m.drawn[1].plate; a.Min.Y != b.Min.Y || a.Overlaps(b) == false {
		t.Errorf("notes of different times are kept apart: %v and %v", a, b)
	}
	if len(m.Warnings()) > 0 {
		t.Errorf("warnings %q", m.Warnings())
	}
}

// TestMovingNotesKeepApart: the note of a second box takes another side than that
// of one whose note would be in its way, for all frames.
func TestMovingNotesKeepApart(t *testing.T) {
	s := MarkSettings{Size: image.Pt(640, 360), Area: image.Rect(0, 0, 640, 360)}
	at := func(x, y float64, note string) func(k int64) Mark {
		return func(k int64) Mark {
			x := x + float64(k)*1.7
			return Mark{Shape: Box, X0: x, Y0: y, X1: x + 80, Y1: y + 40, Note: note}
		}
	}
	all := func(int64) bool { return true }
	one, err := NewMoving(s, 0, 60, all, at(200, 150, "One note"))
	if err != nil {
		t.Fatal(err)
	}
	s.Others = []*Moving{one}
	two, err := NewMoving(s, 0, 60, all, at(230, 140, "Another note"))
	if err != nil {
		t.Fatal(err)
	}
	for k := range int64(60) {
		a, b := one.noteAt(k), two.noteAt(k)
		if a.Empty() || b.Empty() || a.Overlaps(b) {
			t.Fatalf("frame %d: the notes are at %v and %v", k, a, b)
		}
	}
	s.Others = []*Moving{one, two}
	over, err := NewMoving(s, 0, 60, all, func(k int64) Mark {
		r := one.noteAt(k)
		return Mark{Shape: Note, X0: float64(r.Min.X+r.Max.X) / 2, Y0: float64(r.Min.Y+r.Max.Y) / 2, Note: "Over it"}
	})
	if err != nil {
		t.Fatal(err)
	}
	if w := over.Warnings(); len(w) != 1 || !strings.Contains(w[0], `note "Over it" covers another note in 60 frames`) {
		t.Errorf("warnings %q", w)
	}
}

// TestSignKeepsClear: how the scene passes is said in a corner that nothing else has.
func TestSignKeepsClear(t *testing.T) {
	set, err := fonts.New()
	if err != nil {
		t.Fatal(err)
	}
	m, err := pacing.NewTimeMap(pacing.Rate{Num: 60, Den: 1}, time.Second, big.NewRat(1, 4), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, size := range []image.Point{{1280, 720}, {1920, 1080}, {3840, 2160}, {1080, 1920}, {1080, 1080}, {96, 96}} {
		for n := 2; n <= 3; n++ {
			for _, spec := range []layout.Spec{{View: layout.Inset, Over: true}, {View: layout.Inset, Over: true, Opposite: true}, {View: layout.Inset}, {View: layout.Rows}} {
				spec.Size, spec.Captures, spec.Place, spec.Tabs = size, n, layout.None, true
				screen, err := layout.Solve(spec)
				if err != nil {
					t.Fatal(err)
				}
				var avoid []image.Rectangle
				if spec.Over {
					for _, p := range screen.Panes[1:] {
						avoid = append(avoid, p.Area)
					}
				}
				for _, l := range screen.Labels {
					avoid = append(avoid, l.Box)
				}
				sign, err := NewSign(size, m, set, avoid)
				if err != nil {
					t.Fatal(err)
				}
				for _, a := range avoid {
					if sign.Area.Overlaps(a) && size.X > 96 {
						t.Errorf("%v, %d captures, %+v: the sign at %v lies over %v", size, n, spec, sign.Area, a)
					}
				}
				if !sign.Area.In(image.Rectangle{Max: size}) || sign.Area.Min.X%2 != 0 || sign.Area.Max.Y%2 != 0 {
					t.Errorf("%v: the sign is at %v", size, sign.Area)
				}
			}
		}
	}
}

// TestLabelsHaveGround: a label in a row of tabs without a deck stands on a ground of
// its own, as the tabs do.
func TestLabelsHaveGround(t *testing.T) {
	for _, size := range []image.Point{{640, 360}, {360, 640}} {
		s := demoOf(t, layout.Spec{Size: size, Captures: 2, View: layout.Difference, Place: layout.None, Tabs: true}, 1)
		s.Labels = []Label{{Note: "difference of luma x4"}}
		d := newDeck(t, s)
		l := d.Screen.Labels[0]
		img := d.Image(0)
		for x := l.Text.Min.X - 2; x < l.Text.Min.X+60; x++ {
			for _, y := range []int{l.Box.Min.Y + 1, l.Text.Min.Y, (l.Text.Min.Y + l.Text.Max.Y) / 2, l.Box.Max.Y - 2} {
				if a := img.NRGBAAt(x, y).A; a < backing(2) {
					t.Fatalf("%v: at %d,%d in %v the ground has alpha %d", size, x, y, l.Box, a)
				}
			}
		}
	}
}

// TestNotesBreakAtTheirDots: in a narrow tab no line ends with a dot, and a scale
// keeps its kernel beside it.
func TestNotesBreakAtTheirDots(t *testing.T) {
	s := demoOf(t, layout.Spec{Size: image.Pt(540, 960), Captures: 3, View: layout.Wipe, Tabs: true}, 1)
	for i := range s.Captures {
		s.Captures[i].Note = []string{"top", "middle", "bottom"}[i] + " · 1.5x smooth"
	}
	d := newDeck(t, s)
	for i, tab := range d.Screen.Tabs {
		lines := map[int]string{}
		words, _ := d.setTab(i, tab)
		for _, w := range words {
			lines[w.line.Min.Y] += w.text
		}
		whole := false
		for _, l := range lines {
			if strings.HasSuffix(strings.TrimSpace(l), "·") || strings.HasPrefix(strings.TrimSpace(l), "·") {
				t.Errorf("tab %d has a line %q", i+1, l)
			}
			whole = whole || strings.HasSuffix(l, "1.5x smooth")
		}
		if !whole {
			t.Errorf("tab %d says %v", i+1, lines)
		}
	}
}
