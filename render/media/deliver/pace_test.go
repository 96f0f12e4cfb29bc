package deliver

import (
	"fmt"
	"image"
	"math/big"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// TestEveryFrameAtEveryPace renders clips in slow and fast motion and with the
// scene held, reads the bar codes of every pane of every frame, and compares them
// with the definition: the capture frame on screen at start + scene time.
func TestEveryFrameAtEveryPace(t *testing.T) {
	const ms = time.Millisecond
	length := 400 * ms
	rates := []pacing.Rate{hz30, hz60, hz5994, hz120}
	outs := []pacing.Rate{hz30, hz60, hz5994}
	speeds := []*big.Rat{big.NewRat(1, 4), big.NewRat(1, 3), big.NewRat(1, 2), big.NewRat(1, 1), big.NewRat(3, 2), big.NewRat(2, 1), big.NewRat(4, 1)}
	holds := [][]pacing.Freeze{
		nil,
		{{At: 0, For: 100 * ms}},
		{{At: 208 * ms, For: 77 * ms}}, // between frames
		{{At: 0, For: 50 * ms}, {At: 100 * ms, For: 200 * ms}, {At: 333 * ms, For: 70 * ms}},
		{{At: length, For: 150 * ms}},
		{{At: 201 * ms, For: 20 * ms}, {At: 203 * ms, For: 20 * ms}, {At: length, For: 20 * ms}},
	}
	captures := map[pacing.Rate]media.Capture{}
	low := image.Pt(320, 16) // a bar code needs no height
	for _, r := range rates {
		captures[r] = barCaptureOf(t, codecs[0], low, r, int(1.2*r.Hz()), 0)
	}
	d, err := DeliveryOf("lossless")
	if err != nil {
		t.Fatal(err)
	}
	all := os.Getenv("FAIRFRAME_SWEEP") != ""
	i := 0
	for s, speed := range speeds {
		for o, out := range outs {
			if !all && (s+o)%2 == 1 {
				continue
			}
			i++
			// Every speed meets every output rate, or every second one without
			// FAIRFRAME_SWEEP=1; each clip has three captures of differing rates, and the
			// holds take turns.
			hold := holds[(i*5)%len(holds)]
			legs := []pacing.Rate{rates[i%4], rates[(i+1)%4], rates[(i+2)%4]}
			t.Run(fmt.Sprintf("%v in %v with %v", speed, out, hold), func(t *testing.T) {
				m, err := pacing.NewTimeMap(out, length, speed, hold)
				if err != nil {
					t.Fatal(err)
				}
				var list []media.Capture
				var starts []time.Duration
				var exact []*big.Rat
				for n, r := range legs {
					list = append(list, captures[r])
					// The first starts at a frame, whose time is rounded to nanoseconds; the
					// others between frames.
					at, is := r.TimeOf(7), big.NewRat(7*r.Den, r.Num)
					if n > 0 {
						at = time.Duration(n)*250*ms + 5*ms
						is = big.NewRat(int64(at), int64(time.Second))
					}
					starts, exact = append(starts, at), append(exact, is)
				}
				clip := columns(t, image.Pt(3*low.X, low.Y), out, m.Frames(), list, starts, centred)
				clip.Time, clip.Sound, clip.Delivery = m, graph.Sound{}, d
				path := filepath.Join(t.TempDir(), "clip.mkv")
				made, err := Render(t.Context(), tools(t), clip, path, nil)
				if err != nil {
					t.Fatal(err)
				}
				got := numbers(t, clip, made.Clip)
				if int64(len(got)) != m.Frames() {
					t.Fatalf("%d frames instead of %d", len(got), m.Frames())
				}
				for k, seen := range got {
					for n, r := range legs {
						at := new(big.Rat).Add(exact[n], m.Scene(int64(k)))
						at.Mul(at, big.NewRat(r.Num, r.Den))
						if want := int(new(big.Int).Div(at.Num(), at.Denom()).Int64()); seen[n] != want {
							t.Fatalf("output frame %d shows frame %d of the capture at %v, on screen is %d", k, seen[n], r, want)
						}
					}
				}
			})
		}
	}
}
