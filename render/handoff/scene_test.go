package handoff

import (
	"fmt"
	"math/big"
	"strings"
	"testing"
	"time"

	"fairframe/render/pacing"
)

// TestRunsOf: a time map's runs become runs of a capture, after a title page.
func TestRunsOf(t *testing.T) {
	m, err := pacing.NewTimeMap(pacing.Rate{Num: 60, Den: 1}, 2*time.Second, big.NewRat(1, 2), []pacing.Freeze{{At: time.Second, For: 500 * time.Millisecond}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range runsOf(m, pacing.Rate{Num: 60, Den: 1}, 30, 3*time.Second) {
		got = append(got, fmt.Sprintf("%d+%d %v x%s", r.At, r.Frames, r.From, r.Speed.RatString()))
	}
	// Half speed: the first second takes 120 frames, the hold 30, the rest 120.
	if want := "30+120 3s x1/2, 150+30 4s x0, 180+120 4s x1/2"; strings.Join(got, ", ") != want {
		t.Errorf("%s, want %s", strings.Join(got, ", "), want)
	}
}
