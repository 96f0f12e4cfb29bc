package pacing_test

import (
	"fmt"
	"time"

	"fairframe/render/pacing"
)

// A machine at 60 Hz holds 60 fps for a second, then 30 fps for two.
func locked() *pacing.Trace {
	refresh := pacing.Rate{Num: 60, Den: 1}
	var frames []pacing.Frame
	for n := int64(0); n < 60+120; {
		refreshes := int64(1)
		if n >= 60 {
			refreshes = 2
		}
		begin := refresh.TimeOf(n)
		n += refreshes
		frames = append(frames, pacing.Frame{Begin: begin, Time: refresh.TimeOf(n) - begin})
	}
	trace, err := pacing.NewTrace(frames)
	if err != nil {
		panic(err)
	}
	return trace
}

// The frame-rate line of a lock: within spans it falls in one step, trailing it slides.
func ExampleTrace_SpanRate() {
	trace := locked()
	spans := trace.SpanRate(time.Second, pacing.Rate{Num: 60, Den: 1})
	trailing := trace.TrailingRate(time.Second)
	for _, at := range []time.Duration{900 * time.Millisecond, 1100 * time.Millisecond, 2500 * time.Millisecond} {
		a, _ := spans.At(at)
		b, _ := trailing.At(at)
		fmt.Printf("%v: %.1f fps, trailing %.1f fps\n", at, a, b)
	}
	// Output:
	// 900ms: 60.0 fps, trailing 60.0 fps
	// 1.1s: 30.0 fps, trailing 57.0 fps
	// 2.5s: 30.0 fps, trailing 30.0 fps
}

// Spans say in words how a capture was paced.
func ExampleTrace_Spans() {
	trace := locked()
	for _, span := range trace.Spans(trace.Begin(), trace.End(), pacing.Rate{Num: 60, Den: 1}) {
		fmt.Println(span.Sentence("Alder", 0))
	}
	// Output:
	// Alder holds 60 fps from 0.00 s to 1.00 s (60 frames of 16.7 ms)
	// Alder holds 30 fps from 1.00 s to 3.00 s (60 frames of 33.3 ms)
}
