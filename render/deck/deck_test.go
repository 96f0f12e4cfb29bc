package deck

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"strings"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/pacing"
)

func hd() image.Point { return image.Pt(1920, 1080) }

// frame draws output frame k.
func frame(d *Deck, k int) planes {
	buf := make([]byte, d.FrameBytes())
	d.Draw(buf, k)
	return planesOf(buf, d.size.X, d.size.Y, d.alpha)
}

// The same k gives the same bits, whatever was drawn before and by which deck.
func TestDrawIsPure(t *testing.T) {
	for _, place := range []layout.Place{layout.Below, layout.Over} {
		spec := layout.Spec{Size: image.Pt(640, 360), Captures: 3, Place: place, Tabs: true}
		s := demoOf(t, spec, 60*100) // several pages
		a, b := newDeck(t, s), newDeck(t, s)
		if a.pages() < 2 {
			t.Fatalf("%d pages", a.pages())
		}
		want := map[int][]byte{}
		for k := 0; k < s.Frames; k += 97 {
			buf := make([]byte, a.FrameBytes())
			a.Draw(buf, k)
			want[k] = buf
		}
		n := noise(11)
		dirty := bytes.Repeat([]byte{0x55}, b.FrameBytes())
		for range 60 {
			k := int(n.next()*float64(len(want))) * 97
			b.Draw(dirty, k)
			if !bytes.Equal(dirty, want[k]) {
				t.Fatalf("%v: frame %d depends on what came before", place, k)
			}
		}
	}
}

// slowRate counts frames over a window by definition: each frame that overlaps
// it counts by the part inside, over the time they take.
func slowRate(tr *pacing.Trace, at, window time.Duration) float64 {
	var count, seen float64
	for _, f := range tr.Frames() {
		part := min(f.End(), at) - max(f.Begin, at-window)
		if part > 0 {
			count += float64(part) / float64(f.Time)
			seen += part.Seconds()
		}
	}
	return count / seen
}

// slowLine is the value of a capture's line: slowRate over the window that it has
// there.
func slowLine(s Settings, c Capture, at time.Duration) float64 {
	window := s.RateWindowOrDefault()
	if s.Trailing {
		return slowRate(c.Trace, at, window)
	}
	begin, end := c.Trace.Begin(), c.Trace.End()
	for _, span := range c.Trace.Spans(begin, end, pacing.Rate{Num: 60, Den: 1}) {
		for _, border := range []time.Duration{span.From, span.To} {
			if border <= at+pacing.Slack {
				begin = max(begin, border)
			} else {
				end = min(end, border)
			}
		}
	}
	from := max(begin, at-window)
	to := min(from+window, end)
	return slowRate(c.Trace, to, to-from)
}

// Every number of a readout is the trace's at that instant, and the digits are
// a function of the number alone: they stand still from frame to frame.
func TestReadouts(t *testing.T) {
	for _, trailing := range []bool{false, true} {
		s := demo(t, hd(), 3, layout.Below)
		s.Trailing = trailing
		testReadouts(t, s)
	}
}

func testReadouts(t *testing.T, s Settings) {
	d := newDeck(t, s)
	shown := map[string][]byte{}
	for k := 0; k < s.Frames; k += 7 {
		p := frame(d, k)
		for i, c := range s.Captures {
			now := c.Start + s.Rate.TimeOf(int64(k))
			rate, ft := d.readoutText(i, k)
			if want := oneDecimal(slowLine(s, c, now)); rate != want {
				t.Fatalf("frame %d, capture %d: %s fps, want %s", k, i+1, rate, want)
			}
			f, _ := c.Trace.At(now)
			if want := oneDecimal(float64(f.Time) / 1e6); ft != want {
				t.Fatalf("frame %d, capture %d: %s ms, want %s", k, i+1, ft, want)
			}
			for r, text := range map[image.Rectangle]string{d.Screen.Readouts[i].Rate: rate, d.Screen.Readouts[i].Time: ft} {
				key := r.String() + text
				got := crop(p, r)
				if old, ok := shown[key]; ok && !bytes.Equal(old, got) {
					t.Fatalf("frame %d: %q looks different from before", k, text)
				}
				shown[key] = got
			}
		}
	}
	// Different numbers look different.
	seen := map[string]string{}
	for key, pix := range shown {
		where := key[:strings.LastIndex(key, ")")]
		if other, ok := seen[where+string(pix)]; ok {
			t.Fatalf("%s and %s look the same", key, other)
		}
		seen[where+string(pix)] = key
	}
}

func crop(p planes, r image.Rectangle) []byte {
	var out []byte
	for y := r.Min.Y; y < r.Max.Y; y++ {
		out = append(out, p.y[y*p.w+r.Min.X:y*p.w+r.Max.X]...)
	}
	return out
}

func TestOneDecimal(t *testing.T) {
	for v, want := range map[float64]string{
		60: "60.0", 59.94: "59.9", 16.666667: "16.7", 33.333333: "33.3", 0: "0.0",
		999.94: "999.9", 999.96: "1000", 1e9: "99999",
	} {
		if got := oneDecimal(v); got != want {
			t.Errorf("%v: %s, want %s", v, got, want)
		}
	}
}

// Where the log knows nothing, readouts say so and nothing is drawn.
func TestUnknown(t *testing.T) {
	s := demo(t, hd(), 2, layout.Below)
	s.Captures[0].Trace = nil
	s.Captures[1].Trace = withStill(t, locked(t, 600))
	d := newDeck(t, s)
	if rate, ft := d.readoutText(0, 100); rate != unknown || ft != unknown {
		t.Errorf("no log: %s fps, %s ms", rate, ft)
	}
	if _, ft := d.readoutText(1, 120); ft != unknown {
		t.Errorf("still: %s ms", ft)
	}
	lane := d.Screen.Treads.Lanes[0].Area
	if !bytes.Equal(crop(frame(d, 100), lane), crop(frame(d, 200), lane)) {
		t.Error("treads are drawn without a log")
	}
}

func TestClock(t *testing.T) {
	s := demo(t, hd(), 2, layout.Below)
	d := newDeck(t, s)
	for k, want := range map[int]string{0: "0.00", 1: "0.02", 255: "4.25", 719: "11.98"} {
		if got := d.clockText(k); got != want {
			t.Errorf("frame %d: %s, want %s", k, got, want)
		}
	}
	s.Rate = pacing.Rate{Num: 60000, Den: 1001}
	if got := newDeck(t, s).clockText(600); got != "10.01" {
		t.Errorf("frame 600 at 59.94: %s", got)
	}
}

// The line appears exactly up to the playhead: what is right of it is as at the
// beginning, what is left of it as at the end.
func TestReveal(t *testing.T) {
	for _, place := range []layout.Place{layout.Below, layout.Over} {
		d := newDeck(t, demo(t, image.Pt(1280, 720), 3, place))
		area := d.Screen.Line.Area
		first, last := frame(d, 0), frame(d, d.Frames-1)
		for k := 5; k < d.Frames-5; k += 13 {
			p := frame(d, k)
			x := float64(area.Min.X) + float64(k)/float64(d.Frames)*float64(area.Dx())
			half := float64(d.playhead) / 512
			l, r := int(math.Floor(x-half)), int(math.Ceil(x+half))
			past := image.Rect(area.Min.X+int(half)+1, area.Min.Y, l, area.Max.Y)
			future := image.Rect(r, area.Min.Y, area.Max.X-2-int(half), area.Max.Y)
			if !bytes.Equal(crop(p, past), crop(last, past)) {
				t.Fatalf("frame %d: the past changes", k)
			}
			if !bytes.Equal(crop(p, future), crop(first, future)) {
				t.Fatalf("frame %d: something is drawn right of the playhead", k)
			}
			// Chroma too, up to the pair the playhead stands in.
			for y := area.Min.Y / 2; y < area.Max.Y/2; y++ {
				for cx := (r + 1) / 2; cx < area.Max.X/2-2; cx++ {
					if i := y*(p.w/2) + cx; p.u[i] != first.u[i] || p.v[i] != first.v[i] {
						t.Fatalf("frame %d: colour right of the playhead at %d,%d", k, 2*cx, 2*y)
					}
				}
			}
		}
	}
}

// The solid line passes through the value at the playhead, frame by frame.
func TestLineValues(t *testing.T) {
	for _, trailing := range []bool{false, true} {
		s := demo(t, hd(), 2, layout.Below)
		s.Trailing = trailing
		testLineValues(t, s)
	}
}

func testLineValues(t *testing.T, s Settings) {
	d := newDeck(t, s)
	area := d.Screen.Line.Area
	end := frame(d, d.Frames-1)
	want := encode(capture[0])
	for k := 4; k < d.Frames-4; k += 3 {
		v := slowLine(s, s.Captures[0], s.Captures[0].Start+s.Rate.TimeOf(int64(k)))
		w := slowLine(s, s.Captures[1], s.Captures[1].Start+s.Rate.TimeOf(int64(k)))
		if math.Abs(v-w) < 4 {
			continue // the dashed line lies over it
		}
		x := int(float64(area.Min.X) + float64(k)/float64(d.Frames)*float64(area.Dx()))
		y := int(float64(area.Max.Y) - v/d.rateAxis.Max*float64(area.Dy()) + 0.5)
		if got := end.y[y*end.w+x]; abs(int(got)-int(want.y)) > 2 {
			t.Fatalf("frame %d: no line at %.2f fps (%d,%d: %d, want %d)", k, v, x, y, got, want.y)
		}
	}
}

func (s Settings) RateWindowOrDefault() time.Duration {
	if s.RateWindow == 0 {
		return time.Second
	}
	return s.RateWindow
}

// Where as many lines coincide as a screen holds, all their colours can be seen,
// whichever styles they have.
func TestCoincidingLines(t *testing.T) {
	for n, size := range goldenSizes {
		s := demo(t, size, layout.MaxCaptures, layout.Below)
		for i := range s.Captures {
			s.Captures[i].Trace = madeUp(t, 900, func(int, int) int { return 2 })
			s.Captures[i].Style = (n+i)%Styles + 1
		}
		d := newDeck(t, s)
		p := frame(d, d.Frames-1)
		a := d.Screen.Line.Area
		y := a.Max.Y - int(30/d.rateAxis.Max*float64(a.Dy())+0.5)
		count := map[uint8]int{}
		for x := a.Min.X; x < a.Max.X; x++ {
			count[p.y[y*p.w+x]]++
		}
		for i := range s.Captures {
			if n := count[encode(capture[d.style(i)]).y]; n < a.Dx()/25 {
				t.Errorf("%v: style %d shows on %d of %d columns", size, d.style(i)+1, n, a.Dx())
			}
		}
	}
}

// Treads against a slow reference: at 1080p a 60 Hz refresh is five pixels
// wide, so every column belongs to one frame.
func TestTreads(t *testing.T) {
	s := demo(t, hd(), 2, layout.Below)
	d := newDeck(t, s)
	for k := 1; k < d.Frames; k += 11 {
		p := frame(d, k)
		for i, l := range d.Screen.Treads.Lanes {
			checkLane(t, d, p, i, k, l.Area)
		}
	}
}

func checkLane(t *testing.T, d *Deck, p planes, i, k int, area image.Rectangle) {
	t.Helper()
	now := d.Captures[i].Start + d.Rate.TimeOf(int64(k))
	pixel := d.TreadSpan / time.Duration(area.Dx())
	cap, body := encode(capture[i]), encode(body(i, false))
	for x := area.Min.X; x < area.Max.X; x++ {
		at := now - time.Duration(area.Max.X-x)*pixel + pixel/2
		var f pacing.Frame
		for _, g := range d.Captures[i].Trace.Frames() {
			if g.Begin <= at && at < g.End() {
				f = g
			}
		}
		bottom := p.y[(area.Max.Y-1)*p.w+x]
		switch {
		case f.Time == 0:
			if bottom == body.y {
				t.Fatalf("frame %d, lane %d, column %d: a tread where the log knows none", k, i+1, x)
			}
			continue
		case f.End()-at < pixel && f.End() <= now:
			continue // the gap between treads
		}
		if abs(int(bottom)-int(body.y)) > 1 {
			t.Fatalf("frame %d, lane %d, column %d: %d at the foot, want a body %d", k, i+1, x, bottom, body.y)
		}
		height := float64(f.Time) / 1e6 / d.timeAxis.Max * float64(area.Dy())
		if height > float64(area.Dy()) {
			continue
		}
		top := area.Max.Y - int(math.Round(height))
		if got := p.y[top*p.w+x]; abs(int(got)-int(cap.y)) > 1 {
			t.Fatalf("frame %d, lane %d, column %d: %d at %.1f ms, want a cap %d", k, i+1, x, got, float64(f.Time)/1e6, cap.y)
		}
		if got := p.y[(top-1)*p.w+x]; got == cap.y || got == body.y {
			t.Fatalf("frame %d, lane %d, column %d: higher than %.1f ms", k, i+1, x, float64(f.Time)/1e6)
		}
	}
}

// From one output frame to the next the treads move by exactly five pixels.
func TestTreadsScrollEvenly(t *testing.T) {
	d := newDeck(t, demo(t, hd(), 3, layout.Below))
	a := d.Screen.Treads.Lanes[2].Area // unlocked: edges anywhere between pixels
	for k := 100; k < 140; k++ {
		p, q := frame(d, k), frame(d, k+1)
		for y := a.Min.Y; y < a.Max.Y; y++ {
			for x := a.Min.X + 6; x < a.Max.X-40; x++ {
				if was, is := p.y[y*p.w+x+5], q.y[y*q.w+x]; abs(int(was)-int(is)) > 2 {
					t.Fatalf("frame %d: %d,%d is %d, was %d", k+1, x, y, is, was)
				}
			}
		}
	}
}

// The frame on screen grows with the playhead at the height of its frame time,
// and its value shows from the first instant.
func TestGrowingTread(t *testing.T) {
	s := demo(t, hd(), 2, layout.Below)
	d := newDeck(t, s)
	l := d.Screen.Treads.Lanes[0]
	capY := encode(capture[0]).y
	top := d.timeAxis.row(1000.0/30, l.Area)
	// Capture 1 shows a frame of 33.3 ms from its refresh 180: output frame 120.
	for k, grown := range map[int]int{119: 0, 120: 0, 121: 5, 122: 10, 123: 10 + 5} {
		p := frame(d, k)
		n := 0
		for x := l.Area.Max.X - 1; p.y[top*p.w+x] == capY || p.y[top*p.w+x-1] == capY; x-- {
			n++
		}
		if n != grown {
			t.Errorf("frame %d: the tread of 33.3 ms is %d px wide, want %d", k, n, grown)
		}
		pen := p.y[(top+1)*p.w+l.Pen.Max.X-2] == capY
		if pen != (k >= 120) {
			t.Errorf("frame %d: pen at 33.3 ms: %v", k, pen)
		}
	}
}

// Frames beyond the axis say their value; every frame so long does, unless its
// text would touch another's.
func TestLongFramesAreLabelled(t *testing.T) {
	d := newDeck(t, demo(t, hd(), 2, layout.Below))
	long := 0
	for _, f := range d.Captures[1].Trace.Over(d.Captures[1].Start, d.end(1)) {
		if f.Time > 56*time.Millisecond {
			long++
			if !d.treads.long[1][f.Begin] {
				t.Errorf("the frame of %v at %v has no label", f.Time, f.Begin)
			}
		}
	}
	if long < 2 {
		t.Errorf("%d long frames in the made-up trace", long)
	}
}

// Text and marks stay inside the graphics-safe area (EBU R 95): outside it the
// deck is bare ground.
func TestInkInsideSafeArea(t *testing.T) {
	for _, size := range goldenSizes {
		for n := 2; n <= 3; n++ {
			d := newDeck(t, demo(t, size, n, layout.Below))
			p := frame(d, 400)
			g := encode(ground)
			for y := d.Screen.Deck.Min.Y; y < d.size.Y; y++ {
				for x := range d.size.X {
					if !image.Pt(x, y).In(d.Screen.Safe) && p.y[y*p.w+x] != g.y {
						t.Fatalf("%v, %d captures: ink at %d,%d outside %v", size, n, x, y, d.Screen.Safe)
					}
				}
			}
		}
	}
}

// Flat colours are the formula's codes, and alpha is straight: a translucent
// ground has the ground's own colour, and opaque ink is opaque.
func TestFlatColours(t *testing.T) {
	for _, place := range []layout.Place{layout.Below, layout.Over} {
		d := newDeck(t, demo(t, hd(), 2, place))
		p := frame(d, 300)
		check := func(what string, at image.Point, c color.NRGBA, alpha uint8) {
			t.Helper()
			want := encode(c)
			i, j := at.Y*p.w+at.X, at.Y/2*(p.w/2)+at.X/2
			if p.y[i] != want.y || p.u[j] != want.u || p.v[j] != want.v {
				t.Errorf("%v: %s is %d %d %d, want %v", place, what, p.y[i], p.u[j], p.v[j], want)
			}
			if p.a != nil && p.a[i] != alpha {
				t.Errorf("%v: %s has alpha %d, want %d", place, what, p.a[i], alpha)
			}
		}
		check("ground", image.Pt(10, d.size.Y-10), ground, backing(2))
		s := d.Screen.Readouts[0].Swatch
		check("swatch", s.Min.Add(image.Pt(2, 10)), capture[0], 255)
		s = d.Screen.Tabs[0].Swatch
		check("tab swatch", image.Pt((s.Min.X+s.Max.X)/2, s.Min.Y+2), capture[0], 255)
	}
}

func TestTabsAlone(t *testing.T) {
	s := demo(t, image.Pt(1280, 720), 2, layout.None)
	d := newDeck(t, s)
	if !d.Translucent() {
		t.Error("tabs alone hide the footage")
	}
	p := frame(d, 3)
	box := d.Screen.Tabs[1].Box
	if a := p.a[4*p.w+box.Min.X+2]; a != backing(2) {
		t.Errorf("alpha %d under the tab", a)
	}
	if a := p.a[4*p.w+box.Max.X-4]; a != 0 {
		t.Errorf("alpha %d beside the tab", a)
	}
	s.Screen, _ = layout.Solve(layout.Spec{Size: image.Pt(1280, 720), Captures: 2, Place: layout.None})
	bare := newDeck(t, s)
	if bare.Size() != (image.Point{}) || bare.FrameBytes() != 0 {
		t.Errorf("nothing to draw takes %v", bare.Size())
	}
	bare.Draw(nil, 0)
}

// What a tab says, joined.
func tabSays(t *testing.T, d *Deck, i int) string {
	t.Helper()
	words, _ := d.setTab(i, d.Screen.Tabs[i])
	var out []string
	for _, w := range words {
		if w.text != " · " {
			out = append(out, w.text)
		}
		if !w.line.In(d.Screen.Tabs[i].Box) || w.x.Ceil()+w.face.Measure(w.text).Floor() > d.Screen.Safe.Max.X+1 {
			t.Errorf("%q stands at %v in %v", w.text, w.x, w.line)
		}
	}
	return strings.Join(out, " | ")
}

func TestTabs(t *testing.T) {
	s := demo(t, hd(), 2, layout.Below)
	s.Captures[0].Sound = "sound"
	d := newDeck(t, s)
	if got, want := tabSays(t, d, 0), "Alder | quality mode | sound | 1408 × 792"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got, want := tabSays(t, d, 1), "Birch | 1920 × 1080 | +86 % pixels on Alder | 3x, true pixels"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if w := d.Warnings(); len(w) != 0 {
		t.Errorf("warnings %q", w)
	}
}

// Whatever else has to go, the note on the scale stays, and every loss is
// reported.
func TestTabsKeepTheNote(t *testing.T) {
	long := strings.Repeat("Birch of the far north ", 6)
	for _, size := range append(goldenSizes, image.Pt(320, 180), image.Pt(480, 1080)) {
		for n := 2; n <= 3; n++ {
			s := demo(t, size, n, layout.Below)
			s.Captures[1].Name, s.Captures[1].Detail = long, long
			s.Captures[1].Note = "whole, 33 % size"
			d := newDeck(t, s)
			// A narrow tab breaks it between words.
			if got := strings.ReplaceAll(tabSays(t, d, 1), " | ", " "); !strings.Contains(got, "whole, 33 % size") {
				t.Errorf("%v, %d captures: %s", size, n, got)
			}
			if w := strings.Join(d.Warnings(), "\n"); !strings.Contains(w, "detail") || !strings.Contains(w, "name shortened") {
				t.Errorf("%v, %d captures: warnings %q", size, n, w)
			}
		}
	}
}

// A note that no line holds is broken between its phrases, not within them.
func TestTabsBreakTheNoteBetweenPhrases(t *testing.T) {
	s := demo(t, image.Pt(1080, 1920), 3, layout.Below)
	for i := range s.Captures {
		s.Captures[i].Detail, s.Captures[i].Note = "", "3x smooth, tone-mapped"
	}
	d := newDeck(t, s)
	for i := range s.Captures {
		if got := tabSays(t, d, i); !strings.HasSuffix(got, " | 3x smooth, | tone-mapped") {
			t.Errorf("capture %d: %s", i+1, got)
		}
	}
}

func TestCaptionIsFitted(t *testing.T) {
	s := demo(t, image.Pt(1080, 1080), 2, layout.Below)
	s.Caption = strings.Repeat("Launch from the north ridge, ", 10)
	w := newDeck(t, s).Warnings()
	if len(w) != 1 || !strings.HasPrefix(w[0], "caption shortened to \"Launch from") || !strings.HasSuffix(w[0], "…\"") {
		t.Errorf("warnings %q", w)
	}
}

// The graph says that its line is a mean, and which part of the scene it shows.
func TestLineTitle(t *testing.T) {
	d := newDeck(t, demo(t, hd(), 2, layout.Below))
	if got, want := d.lineTitle(0), "Frame rate, whole scene (mean of 1 s within spans)"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	s := demoOf(t, layout.Spec{Size: hd(), Captures: 2, Tabs: true}, 60*200)
	s.RateWindow, s.Trailing = 500*time.Millisecond, true
	d = newDeck(t, s)
	if got, want := d.lineTitle(1), "Frame rate, page 2 of 7 (trailing mean of 0.5 s)"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	for _, size := range goldenSizes {
		d := newDeck(t, demo(t, size, 3, layout.Below))
		if got := d.lineTitle(0); !strings.Contains(got, "mean of 1 s") {
			t.Errorf("%v: %s", size, got)
		}
	}
}

// repeating is a trace of these frame times, again and again.
func repeating(t *testing.T, times ...time.Duration) *pacing.Trace {
	t.Helper()
	var frames []pacing.Frame
	for begin := time.Duration(0); begin < 14*time.Second; {
		f := pacing.Frame{Begin: begin, Time: times[len(frames)%len(times)]}
		frames, begin = append(frames, f), f.End()
	}
	trace, _, err := pacing.TraceOf("made", frames, 0, 14*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	return trace
}

// The lanes' scale fits what happens in the scene, is the same for all captures, and has
// whole refreshes; what is rarer than four of them is cut.
func TestTimeAxisFitsTheScene(t *testing.T) {
	of := func(times ...time.Duration) *pacing.Trace { return repeating(t, times...) }
	r := sixty.TimeOf(1)
	for _, c := range []struct {
		a, b     *pacing.Trace
		unlocked bool
		want     float64 // refreshes, or 10 ms
	}{
		{of(r), of(r), false, 2.35},
		{of(2 * r), of(r), false, 2.35},
		{of(r, r, 3*r), of(r), false, 3.35},
		{of(r), of(r, r, r, 6*r), false, 4.35},
		{of(13 * time.Millisecond), of(17 * time.Millisecond), true, 3.35},
		{of(13 * time.Millisecond), of(44 * time.Millisecond), true, 5.35},
		{of(13 * time.Millisecond), of(200 * time.Millisecond), true, 7.35},
	} {
		s := demo(t, hd(), 2, layout.Below)
		s.Captures[0].Trace, s.Captures[1].Trace, s.Unlocked = c.a, c.b, c.unlocked
		step := 1000.0 / 60
		if c.unlocked {
			step = 10
		}
		if d := newDeck(t, s); math.Abs(d.timeAxis.Max-c.want*step) > 1e-6 || d.timeAxis.Min != 0 {
			t.Errorf("axis %v, want up to %.2f ms", d.timeAxis, c.want*step)
		}
	}
}

// Where labels would touch, lines stay: all clips of a file have the same ones. A machine
// that runs beyond the refresh has a scale there too.
func TestRateLinesStay(t *testing.T) {
	for _, size := range goldenSizes {
		d := newDeck(t, demo(t, size, 2, layout.Below))
		area := d.Screen.Line.Area
		for _, v := range []float64{60, 30, 20, 15} {
			row := d.rateAxis.row(v, area)
			// Just right of the values, where no line of a capture begins yet.
			if got := d.static.img.NRGBAAt(area.Max.X-2, row); got != hair {
				t.Errorf("%v: no line at %v fps, but %v", size, v, got)
			}
		}
	}
	s := demo(t, hd(), 3, layout.Below)
	s.Captures[2].Trace = repeating(t, 13700*time.Microsecond)
	d := newDeck(t, s)
	if got := d.rateTicks(); got[1].value != 80 || !got[1].line {
		t.Errorf("a machine at 73 fps: %v", got)
	}
}

// Gridlines: the refresh rate and its divisors, the refresh interval and its
// multiples. Common practice: 60, 30, 20, 15 fps are 16.7, 33.3, 50.0, 66.7 ms
// at 60 Hz.
func TestTicks(t *testing.T) {
	s := demo(t, hd(), 2, layout.Below)
	labels := func(ticks []tick) string {
		var out []string
		for _, t := range ticks {
			out = append(out, t.label)
		}
		return strings.Join(out, " ")
	}
	d := newDeck(t, s)
	if got := labels(d.rateTicks()); got != "60 30 20 15 0" {
		t.Errorf("rates %s", got)
	}
	if got := labels(d.timeTicks()); got != "16.7 33.3 50.0 66.7" { // the demo has frames of 100 ms
		t.Errorf("times %s", got)
	}
	s.Refresh = pacing.Rate{Num: 120, Den: 1}
	s.RateAxis, s.TimeAxis = Axis{Min: 25, Max: 130}, Axis{Max: 30}
	d = newDeck(t, s)
	if got := labels(d.rateTicks()); got != "120 60 40 30 25" {
		t.Errorf("rates at 120 Hz %s", got)
	}
	if got := labels(d.timeTicks()); got != "8.3 16.7 25.0" {
		t.Errorf("times at 120 Hz %s", got)
	}
	if d.rateAxis != s.RateAxis || d.timeAxis != s.TimeAxis {
		t.Errorf("axes %v %v", d.rateAxis, d.timeAxis)
	}
	// Without v-sync a capture may run above the refresh rate: the axis follows.
	s = demo(t, hd(), 2, layout.Below)
	var frames []pacing.Frame
	for at := time.Duration(0); at < 15*time.Second; at += 7 * time.Millisecond {
		frames = append(frames, pacing.Frame{Begin: at, Time: 7 * time.Millisecond})
	}
	s.Captures[0].Trace = trace(t, frames)
	if d := newDeck(t, s); d.rateAxis.Max < 1000.0/7 {
		t.Errorf("axis ends at %v", d.rateAxis.Max)
	}
}

func TestErrors(t *testing.T) {
	for want, change := range map[string]func(*Settings){
		"deck: 1 captures for a screen of 2":                                    func(s *Settings) { s.Captures = s.Captures[:1] },
		"deck: 0 frames at rate 60":                                             func(s *Settings) { s.Frames = 0 },
		"deck: rate axis from 60 to 30":                                         func(s *Settings) { s.RateAxis = Axis{60, 30} },
		"deck: time axis from 0 to NaN":                                         func(s *Settings) { s.TimeAxis = Axis{0, math.NaN()} },
		"deck: span over 1m0s (rate window 0s, treads 2m0s)":                    func(s *Settings) { s.TreadSpan = 2 * time.Minute },
		"deck: negative span (rate window -1s, treads 0s)":                      func(s *Settings) { s.RateWindow = -time.Second },
		`deck: name of capture 2 ("B⺞"): fonts: no glyph for "⺞" (U+2E9E)`:      func(s *Settings) { s.Captures[1].Name = "B⺞" },
		`deck: caption ("a\nb"): fonts: no glyph for "\n" (U+000A)`:             func(s *Settings) { s.Caption = "a\nb" },
		`deck: note of capture 1 ("\x1b"): fonts: no glyph for "\x1b" (U+001B)`: func(s *Settings) { s.Captures[0].Note = "\x1b" },
	} {
		s := demo(t, hd(), 2, layout.Below)
		change(&s)
		if _, err := New(s); err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

// Every kind of screen draws, with and without its optional parts.
func TestAllScreens(t *testing.T) {
	for _, size := range append(goldenSizes, image.Pt(640, 480), image.Pt(854, 480)) {
		for n := layout.MinCaptures; n <= layout.MaxCaptures; n++ {
			for _, place := range []layout.Place{layout.Below, layout.Over, layout.None} {
				for flags := range 4 {
					spec := layout.Spec{Size: size, Captures: n, Place: place, Tabs: flags&1 > 0, Caption: flags&2 > 0}
					d := newDeck(t, demoOf(t, spec, 90))
					if d.FrameBytes() == 0 {
						continue
					}
					p := frame(d, 45)
					below := place == layout.Below || place == layout.Over && n > 3 // two by two have no room for it
					if below != (p.a == nil) {
						t.Errorf("%+v: translucent %v", spec, d.Translucent())
					}
				}
			}
		}
	}
}

// Frames that log and container rounded to the millisecond, gaps, one endless
// frame, odd rates and tiny outputs: nothing of it may panic.
func TestOddTraces(t *testing.T) {
	ms := time.Millisecond
	for _, frames := range map[string][]pacing.Frame{
		"gap":     {{Begin: 0, Time: 16 * ms}, {Begin: 3 * time.Second, Time: 33 * ms}},
		"endless": {{Begin: -24 * time.Hour, Time: 8760 * time.Hour}},
		"ages":    {{Begin: -24 * time.Hour, Time: 8760 * time.Hour, Kind: pacing.Still}},
		"brief":   {{Begin: 1100 * ms, Time: 1}, {Begin: 1101 * ms, Time: 1000}},
		"late":    {{Begin: time.Hour, Time: ms, Tear: 5}},
		"overlap": {{Begin: 1000 * ms, Time: 17 * ms, Tear: 3}, {Begin: 1016 * ms, Time: 17 * ms, Kind: pacing.Still}, {Begin: 1033 * ms, Time: 800 * ms}},
	} {
		for _, size := range []image.Point{{96, 96}, {320, 180}, {96, 240}, {1920, 1080}} {
			for _, place := range []layout.Place{layout.Below, layout.Over} {
				s := demo(t, size, 2, place)
				s.Captures[0].Trace = trace(t, frames)
				s.Rate = pacing.Rate{Num: 24000, Den: 1001}
				s.Frames = 50
				d := newDeck(t, s)
				for _, k := range []int{-3, 0, 1, 17, 49, 1000} {
					frame(d, k)
				}
			}
		}
	}
}

// TestStylesStayWithTheirCaptures: a capture that asks for the third style gets
// it, whatever its place, and no two captures may look the same.
func TestStylesStayWithTheirCaptures(t *testing.T) {
	list := []Capture{{Name: "a"}, {Name: "b", Style: 3}}
	if err := styles(list); err != nil || list[0].Style != 1 || list[1].Style != 3 {
		t.Errorf("styles %v, error %v", list, err)
	}
	for _, bad := range [][]Capture{{{Style: 2}, {}}, {{Style: 1}, {Style: 1}}, {{Style: 5}, {}}, {{Style: -1}, {}}} {
		if err := styles(bad); err == nil {
			t.Errorf("styles %v were accepted", bad)
		}
	}
}
