package pacing

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"
)

func TestSmoke(t *testing.T) {
	var fr []Frame
	r := Rate{60, 1}
	for i := int64(0); i < 100; i++ {
		fr = append(fr, Frame{Begin: r.TimeOf(2 * i), Time: r.TimeOf(2*i+2) - r.TimeOf(2*i), Tear: int(i % 3), Doubtful: i == 7})
	}
	var b bytes.Buffer
	if err := WriteLog(&b, []string{"hello"}, fr); err != nil {
		t.Fatal(err)
	}
	tr, w, err := ReadTrace(&b, "x.csv", Format{}, r, -time.Second, math.MaxInt64)
	t.Log(w, err)
	for i, f := range tr.Frames() {
		if f != fr[i] {
			t.Fatal(f, fr[i])
		}
	}
	t.Log(tr.RateAt(1500*time.Millisecond, time.Second))
	tr, w, err = ReadTrace(strings.NewReader("ms\n"+strings.Repeat("16.7\n", 600)), "y.csv", Format{Column: "ms", Means: FrameTime}, r, 0, 12*time.Second)
	t.Log(w, err)
	t.Log(tr.RateAt(1500*time.Millisecond, time.Second))
	t.Log(tr.Begin(), tr.End(), len(tr.Frames()))
}
