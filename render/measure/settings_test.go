package measure

import (
	"errors"
	"image"
	"strings"
	"testing"

	"fairframe/render/pacing"
)

func TestNewRefuses(t *testing.T) {
	ok := Source{Size: image.Pt(320, 180), Rate: captureRate}
	none := func(pacing.Frame) error { return nil }
	for _, c := range []struct {
		name string
		src  Source
		s    Settings
		want string
	}{
		{"tiny", Source{Size: image.Pt(8, 180), Rate: captureRate}, Settings{}, "8x180"},
		{"huge", Source{Size: image.Pt(40000, 180), Rate: captureRate}, Settings{}, "40000x180"},
		{"no rate", Source{Size: image.Pt(320, 180)}, Settings{}, "rate"},
		{"negative", Source{Size: image.Pt(320, 180), Rate: captureRate, First: -1}, Settings{}, "-1"},
		{"region out", ok, Settings{Region: image.Rect(300, 0, 340, 100)}, "300,0,40,100"},
		{"region empty", ok, Settings{Region: image.Rect(10, 10, 10, 50)}, "empty"},
		{"region small", ok, Settings{Region: image.Rect(0, 0, 8, 100)}, "smaller"},
		{"ignore out", ok, Settings{Ignore: []image.Rectangle{image.Rect(400, 0, 500, 50)}}, "400,0,100,50"},
		{"ignore all", ok, Settings{Ignore: []image.Rectangle{image.Rect(0, 0, 320, 180)}}, "nothing is left"},
	} {
		if _, err := New(c.src, c.s, none); err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "measure: ") {
			t.Errorf("%s: %v, want an error with %q", c.name, err, c.want)
		}
	}
	if _, err := New(ok, Settings{}, nil); err == nil {
		t.Error("no receiver is accepted")
	}
}

func TestAddRefusesOtherSizes(t *testing.T) {
	m, err := New(Source{Size: image.Pt(32, 32), Rate: captureRate}, Settings{}, func(pacing.Frame) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	if err := m.Add(make([]byte, 32*32)); err != nil {
		t.Fatal(err)
	}
	if _, err := m.Finish(); err == nil || !strings.Contains(err.Error(), "1 frames") {
		t.Errorf("one frame: %v, want an error that says so", err)
	}
	if err := m.Add(make([]byte, 64*32)); err == nil || !strings.Contains(err.Error(), "size change") {
		t.Errorf("other size: %v, want an error that says so", err)
	}
}

func TestReceiverEndsMeasuring(t *testing.T) {
	full := errors.New("disk full")
	m, err := New(Source{Size: image.Pt(32, 32), Rate: captureRate}, Settings{}, func(pacing.Frame) error { return full })
	if err != nil {
		t.Fatal(err)
	}
	pic := make([]byte, 32*32)
	for n := 0; err == nil && n < 1000; n++ {
		for i := range pic {
			pic[i] = byte(i*n + n)
		}
		err = m.Add(pic)
	}
	if !errors.Is(err, full) {
		t.Errorf("%v, want the receiver's error", err)
	}
}

// TestOddSizes measures pictures whose sides are no multiples of anything.
func TestOddSizes(t *testing.T) {
	for _, size := range []image.Point{{16, 16}, {17, 19}, {33, 47}, {321, 181}, {129, 16}, {16, 131}} {
		f := &fixture{w: size.X, h: size.Y, frames: 90, src: newSource("pan", 150, 2), starts: cadence(24, 90)}
		m := measureDrawn(t, f, Settings{})
		if s := m.score(f); s.wrong+s.invented > 0 {
			t.Errorf("%v: %v", size, s)
		}
	}
}

// measureDrawn measures a fixture as drawn, without any encoding.
func measureDrawn(t testing.TB, f *fixture, s Settings) measured {
	t.Helper()
	var m measured
	meter, err := New(Source{Size: image.Pt(f.w, f.h), Rate: captureRate}, s, func(x pacing.Frame) error { m.frames = append(m.frames, x); return nil })
	if err != nil {
		t.Fatal(err)
	}
	if err := f.each(func(_ int64, pic []byte) error { return meter.Add(pic) }); err != nil {
		t.Fatal(err)
	}
	if m.sum, err = meter.Finish(); err != nil {
		t.Fatal(err)
	}
	return m
}

// TestRegionAndIgnore measures a game at 20 fps under a HUD that moves at 60.
func TestRegionAndIgnore(t *testing.T) {
	hud := image.Rect(200, 100, 301, 160)
	f := &fixture{w: 320, h: 180, frames: 150, src: newSource("pan", 150, 6), starts: cadence(20, 150)}
	f.hud = func(pic []byte, w, h int, n int64) {
		for y := hud.Min.Y; y < hud.Max.Y; y++ {
			for x := hud.Min.X; x < hud.Max.X; x++ {
				pic[y*w+x] = byte(16 + (x*7+y*3+int(n)*11)%200)
			}
		}
	}
	for _, c := range []struct {
		name string
		s    Settings
	}{
		{"ignored", Settings{Ignore: []image.Rectangle{hud}}},
		{"region", Settings{Region: image.Rect(3, 5, 198, 180)}},
		{"both", Settings{Region: image.Rect(0, 90, 320, 180), Ignore: []image.Rectangle{hud}}},
	} {
		m := measureDrawn(t, f, c.s)
		if s := m.score(f); s.wrong+s.invented > 0 {
			t.Errorf("%s: %v", c.name, s)
		}
	}
	// Without help the HUD is what moves.
	if m := measureDrawn(t, f, Settings{}); m.sum.New < 140 {
		t.Errorf("the HUD alone makes %d of 150 captured frames new", m.sum.New)
	}
}

// TestMemoryIsConstant feeds a long capture and counts what is kept of it.
func TestMemoryIsConstant(t *testing.T) {
	f := &fixture{w: 32, h: 32, frames: 3520, src: newSource("pan", 150, 2), starts: cadence(30, 3520)}
	m, err := New(Source{Size: image.Pt(f.w, f.h), Rate: captureRate}, Settings{}, func(pacing.Frame) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	if err := f.each(func(_ int64, pic []byte) error { return m.Add(pic) }); err != nil {
		t.Fatal(err)
	}
	if kept := len(m.window) + len(m.free); kept > longest+2*margin+1 {
		t.Errorf("%d observations are kept of %d captured frames, want at most %d", kept, f.frames, longest+2*margin+1)
	}
}

// TestFirst numbers frames from where the measuring begins.
func TestFirst(t *testing.T) {
	var got []pacing.Frame
	m, err := New(Source{Size: image.Pt(32, 32), Rate: captureRate, First: 90}, Settings{}, func(f pacing.Frame) error { got = append(got, f); return nil })
	if err != nil {
		t.Fatal(err)
	}
	f := &fixture{w: 32, h: 32, frames: 30, src: newSource("pan", 150, 2), starts: cadence(30, 30)}
	if err := f.each(func(_ int64, pic []byte) error { return m.Add(pic) }); err != nil {
		t.Fatal(err)
	}
	if _, err := m.Finish(); err != nil {
		t.Fatal(err)
	}
	if len(got) != 15 || got[0].Begin != captureRate.TimeOf(90) || got[14].End() != captureRate.TimeOf(120) {
		t.Errorf("%d frames from %v, want 15 from 1.5s to 2s", len(got), got[0].Begin)
	}
	if _, err := pacing.NewTrace(got); err != nil {
		t.Error(err)
	}
}
