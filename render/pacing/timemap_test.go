package pacing

import (
	"fmt"
	"math/big"
	"testing"
	"time"
)

// sceneAt is the definition, on a list of what the clip shows: scene time passes
// at the speed, but for the holds.
func sceneAt(clip *big.Rat, speed *big.Rat, holds []Freeze) *big.Rat {
	left := new(big.Rat).Set(clip)
	scene := new(big.Rat)
	for _, h := range holds {
		until := new(big.Rat).Sub(exact(h.At), scene)
		until.Quo(until, speed)
		if left.Cmp(until) < 0 {
			break
		}
		scene = exact(h.At)
		left.Sub(left, until)
		if left.Cmp(exact(h.For)) < 0 {
			return scene
		}
		left.Sub(left, exact(h.For))
	}
	return scene.Add(scene, left.Mul(left, speed))
}

func TestTimeMap(t *testing.T) {
	const s, ms = time.Second, time.Millisecond
	length := 2 * s
	for _, rate := range []Rate{{60, 1}, {30, 1}, {60000, 1001}} {
		for _, speed := range []*big.Rat{big.NewRat(1, 1), big.NewRat(1, 4), big.NewRat(1, 3), big.NewRat(1, 2), big.NewRat(3, 2), big.NewRat(2, 1), big.NewRat(4, 1), big.NewRat(7, 97)} {
			for _, holds := range [][]Freeze{
				nil, {{0, s}}, {{1250 * ms, 333 * ms}}, {{1001 * ms, ms}, {1002 * ms, 50 * ms}}, {{0, 100 * ms}, {500 * ms, s}, {1999 * ms, s / 3}},
			} {
				name := fmt.Sprintf("%v at %v with %v", rate, speed, holds)
				m, err := NewTimeMap(rate, length, speed, holds)
				if err != nil {
					t.Fatal(err)
				}
				total := new(big.Rat).Quo(exact(length), speed)
				for _, h := range holds {
					total.Add(total, exact(h.For))
				}
				last := new(big.Rat).Mul(big.NewRat(m.Frames()-1, 1), rate.interval())
				if next := new(big.Rat).Add(last, rate.interval()); last.Cmp(total) >= 0 || next.Cmp(total) < 0 {
					t.Fatalf("%s: %d frames for %v s", name, m.Frames(), total)
				}
				for k := range m.Frames() {
					want := sceneAt(new(big.Rat).Mul(big.NewRat(k, 1), rate.interval()), speed, holds)
					if got := m.Scene(k); got.Cmp(want) != 0 {
						t.Fatalf("%s: frame %d shows %v s, want %v", name, k, got, want)
					}
				}
				from := int64(0)
				for _, r := range m.Runs() {
					if r.From != from || r.To <= from {
						t.Fatalf("%s: runs %v", name, m.Runs())
					}
					from = r.To
				}
				if from != m.Frames() {
					t.Fatalf("%s: runs end at %d of %d", name, from, m.Frames())
				}
			}
		}
	}
}

// TestTimeMapEnd holds the end: what stays is the last frame shown before.
func TestTimeMapEnd(t *testing.T) {
	m, err := NewTimeMap(Rate{60, 1}, time.Second, big.NewRat(1, 2), []Freeze{{time.Second, time.Second}})
	if err != nil {
		t.Fatal(err)
	}
	want := big.NewRat(119, 120)
	if m.Frames() != 180 || m.Scene(119).Cmp(want) != 0 || m.Scene(120).Cmp(want) != 0 || m.Scene(179).Cmp(want) != 0 || m.Held(119) || !m.Held(120) {
		t.Errorf("%d frames, %v %v %v", m.Frames(), m.Scene(119), m.Scene(120), m.Scene(179))
	}
	if at := m.ClipTime(500 * time.Millisecond); at.Cmp(big.NewRat(1, 1)) != 0 {
		t.Errorf("half a second of the scene is at %v", at)
	}
	if m.Plain() || !(TimeMap{}).Plain() {
		t.Error("plain")
	}
}

func TestTimeMapRefuses(t *testing.T) {
	for _, holds := range [][]Freeze{{{-1, 1}}, {{time.Second + 1, 1}}, {{0, 0}}, {{5, 1}, {5, 1}}, {{5, 1}, {4, 1}}} {
		if _, err := NewTimeMap(Rate{60, 1}, time.Second, nil, holds); err == nil {
			t.Errorf("%v: no error", holds)
		}
	}
}

// TestTimeMapCountsFrames: a length given in frames is that many frames, however
// its time is rounded, as Rate.FramesIn has it; at half speed twice as many.
func TestTimeMapCountsFrames(t *testing.T) {
	for _, r := range []Rate{{60, 1}, {60000, 1001}, {30000, 1001}, {24000, 1001}, {50, 1}} {
		for n := int64(1); n < 200; n++ {
			for _, s := range []*big.Rat{big.NewRat(1, 1), big.NewRat(1, 2), big.NewRat(1, 64)} {
				m, err := NewTimeMap(r, r.TimeOf(n), s, nil)
				want := n
				if s != nil {
					want = n * s.Denom().Int64() / s.Num().Int64()
				}
				if err != nil || m.Frames() != want {
					t.Fatalf("f%d at %v, speed %v: %d frames, want %d (%v)", n, r, s, m.Frames(), want, err)
				}
			}
		}
	}
}
