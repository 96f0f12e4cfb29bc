package render

import (
	"math"
	"path/filepath"
	"testing"

	"fairframe/render/align"
)

// TestAlignJittered: a copy of a capture whose stamps jitter is found within half a
// refresh of where its stamps put its pictures on average.
func TestAlignJittered(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.mkv"), filepath.Join(dir, "b.mkv")
	const source = "mandelbrot=s=160x90:r=60:start_scale=0.5:end_scale=0.002:end_pts=600,trim=end_frame=240,format=yuv420p"
	footage(t, a, lavfi(source, bt709...)...)
	// Picture 0 keeps its stamp; the others are 0 to 12 ms late, 6 ms on average.
	const jitter = "settb=1/1000,setpts='if(eq(N,0),0*st(1,7),floor(N*1000/60+random(1)*12+0.5))'"
	footage(t, b, join([]string{"-i", a, "-vf", jitter, "-fps_mode", "passthrough", "-enc_time_base", "1/1000"}, bt709)...)
	found, err := align.Captures(t.Context(), tools(t), []string{a, b}, align.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	one := found.Pairs[0]
	if !one.Matched() {
		t.Fatalf("nothing matches of a copy, confidence %v", one.Confidence)
	}
	if off := one.Offset - 0.006; math.Abs(off) > hz60.TimeOf(1).Seconds()/2 {
		t.Errorf("offset %v s, want 6 ms to within half a refresh; confidence %v", one.Offset, one.Confidence)
	}
}
