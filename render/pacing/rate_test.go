package pacing

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
	"time"

	"fairframe/testdata/published"
)

func TestParseRate(t *testing.T) {
	for s, want := range map[string]Rate{
		"60": {60, 1}, "60000/1001": {60000, 1001}, " 30 ": {30, 1}, "120/2": {60, 1}, "1/2": {1, 2},
	} {
		if got, err := ParseRate(s); err != nil || got != want {
			t.Errorf("ParseRate(%q) is %v, %v; want %v", s, got, err, want)
		}
	}
	for _, s := range []string{"", "59.94", "0", "-60", "60/0", "60/-1", "60/", "/1", "a", "60/1/1", "9999999999", "1e3", "99999999999999999999"} {
		if got, err := ParseRate(s); err == nil {
			t.Errorf("ParseRate(%q) is %v, want an error", s, got)
		}
	}
}

// The rates of broadcast and film as fractions, from
// testdata/published/08_frame_rates.csv (SMPTE ST 12-1, ST 274, ST 296 and ST 2036-1,
// ITU-R BT.709-6 and BT.2020-2; milliseconds are arithmetic).
func TestRateAgainstTable(t *testing.T) {
	for _, row := range published.Rows(t, "08_frame_rates.csv") {
		r, err := ParseRate(row["num"] + "/" + row["den"])
		if err != nil {
			t.Error(err)
			continue
		}
		if want := number(t, row["fps"]); math.Abs(r.Hz()-want) > 1e-9 {
			t.Errorf("%v is %v Hz, want %v", r, r.Hz(), want)
		}
		if got, want := r.TimeOf(1).Seconds()*1000, number(t, row["frame_ms"]); math.Abs(got-want) > 0.6e-6 {
			t.Errorf("a frame at %v takes %v ms, want %v", r, got, want)
		}
	}
}

func TestRateString(t *testing.T) {
	for _, s := range []string{"60", "60000/1001", "24000/1001"} {
		if r, err := ParseRate(s); err != nil || r.String() != s {
			t.Errorf("%q reads as %v, %v", s, r, err)
		}
	}
	if (Rate{}).Valid() || !at60.Valid() {
		t.Error("Valid is wrong")
	}
}

// TimeOf in exact fractions: n·den/num s, to the nearest ns.
func TestTimeOf(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	rates := []Rate{{60, 1}, {60000, 1001}, {24000, 1001}, {1, 1}, {1, maxRatePart}, {maxRatePart, 1}, {maxRatePart, maxRatePart - 1}, {7, 3}}
	for _, r := range rates {
		for range 2000 {
			n := rng.Int64N(1<<33) >> rng.IntN(33)
			if rng.IntN(4) == 0 {
				n = -n
			}
			exact := big.NewRat(n, 1)
			exact.Mul(exact, big.NewRat(r.Den, r.Num)).Mul(exact, big.NewRat(int64(time.Second), 1))
			limit := big.NewRat(math.MaxInt64/2, 1)
			if new(big.Rat).Abs(exact).Cmp(limit) > 0 {
				continue
			}
			got := r.TimeOf(n)
			off := exact.Sub(exact, big.NewRat(int64(got), 1))
			if off.Abs(off).Cmp(big.NewRat(1, 2)) > 0 {
				t.Fatalf("%v: frame %d begins at %d ns, which is off by %v", r, n, got, off)
			}
		}
	}
	if got, want := at60.TimeOf(1), 16666667*time.Nanosecond; got != want {
		t.Errorf("frame 1 begins at %v, want %v", got, want)
	}
	// A day at 60000/1001 Hz.
	if got, want := (Rate{60000, 1001}).TimeOf(5184000), 86486400*time.Millisecond; got != want {
		t.Errorf("frame 5184000 begins at %v, want %v", got, want)
	}
}

// Every frame's begin leads back to it, and the ns before to the one before.
func TestFrameAt(t *testing.T) {
	for _, r := range []Rate{{60, 1}, {60000, 1001}, {24000, 1001}, {30, 1}, {120, 1}, {144, 1}} {
		for _, base := range []int64{-500, 0, 1 << 20, 1 << 28} {
			for n := base; n < base+500; n++ {
				begin := r.TimeOf(n)
				if got := r.FrameAt(begin); got != n {
					t.Fatalf("%v: at %v is frame %d, want %d", r, begin, got, n)
				}
				if got := r.FrameAt(begin - 2); got != n-1 {
					t.Fatalf("%v: at %v is frame %d, want %d", r, begin-2, got, n-1)
				}
				if got := r.FramesIn(begin); n >= 0 && (got < n || got > n+1) {
					t.Fatalf("%v: %d frames begin in %v, want %d", r, got, begin, n)
				}
			}
		}
	}
	if got := at60.FrameAt(math.MaxInt64); got < 1<<38 {
		t.Errorf("the last frame is %d", got)
	}
}

func TestFramesIn(t *testing.T) {
	for _, c := range []struct {
		d    time.Duration
		want int64
	}{{0, 0}, {-1, 0}, {1, 1}, {time.Second, 60}, {time.Second + 1, 61}, {time.Second - 1, 60}, {8 * time.Second, 480}, {16666666, 1}} {
		if got := at60.FramesIn(c.d); got != c.want {
			t.Errorf("%d frames begin in %v, want %d", got, c.d, c.want)
		}
	}
}
