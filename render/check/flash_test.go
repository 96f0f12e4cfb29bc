package check

import (
	"image"
	"strings"
	"testing"
	"time"
)

// flashSize is an eighth of the 1024x768 screen of WCAG's definition, in which a
// 10 degree visual field is a rectangle of 341x256: here 43x32.
var flashSize = image.Pt(128, 96)

// drawing draws picture k of a test at 60 Hz.
type drawing func(k, x, y int) [3]byte

func grey(v byte) [3]byte { return [3]byte{v, v, v} }

// blink shows a for half frames, then b for as many, inside a rectangle on grey.
func blink(r image.Rectangle, half int, a, b [3]byte) drawing {
	return func(k, x, y int) [3]byte {
		switch {
		case !image.Pt(x, y).In(r):
			return grey(128)
		case k/half%2 == 0:
			return a
		}
		return b
	}
}

func watch(size image.Point, frames int, draw drawing) []Finding {
	f := NewFlashes(size)
	rgb := make([]byte, 3*size.X*size.Y)
	for k := range frames {
		for y := range size.Y {
			for x := range size.X {
				c := draw(k, x, y)
				copy(rgb[3*(y*size.X+x):], c[:])
			}
		}
		f.Add(hz60.TimeOf(int64(k)), rgb)
	}
	return f.Findings(0)
}

// TestFlashes: the numbers of WCAG 2.2's definition of "general flash and red
// flash thresholds" (w3c/wcag,
// guidelines/terms/20/general-flash-and-red-flash-thresholds.html): more than three flashes within a
// second; 10 % of the maximum relative luminance, the darker image below 0.80;
// R/(R+G+B) of 0.8 and 0.2 in the CIE 1976 UCS diagram; a quarter of a 10 degree
// visual field, that is 21 824 of the 341x256 pixels, here 344 of 43x32. Relative
// luminance of sRGB by WCAG's formula, worked by hand: grey 89 is 0.0998, grey 90
// 0.1022, grey 231 0.7991, grey 232 0.8069.
func TestFlashes(t *testing.T) {
	all := image.Rectangle{Max: flashSize}
	const whole, field = "the whole", "a field"
	for name, test := range map[string]struct {
		draw drawing
		want string // sort and place, "" for none
	}{
		"3 a second":            {blink(all, 10, grey(0), grey(255)), ""},
		"3.75 a second":         {blink(all, 8, grey(0), grey(255)), "general " + whole},
		"5 a second":            {blink(all, 6, grey(0), grey(255)), "general " + whole},
		"30 a second":           {blink(all, 1, grey(0), grey(255)), "general " + whole},
		"9.98 % of luminance":   {blink(all, 6, grey(0), grey(89)), ""},
		"10.2 % of luminance":   {blink(all, 6, grey(0), grey(90)), "general " + whole},
		"the darker 0.799":      {blink(all, 6, grey(231), grey(255)), "general " + whole},
		"the darker 0.807":      {blink(all, 6, grey(232), grey(255)), ""},
		"343 of 344 pixels":     {blink(image.Rect(50, 40, 57, 89), 6, grey(0), grey(255)), ""}, // 7x49, of which 7x32 at most lie in one field
		"18x19 of 43x32":        {blink(image.Rect(50, 40, 68, 59), 6, grey(0), grey(255)), ""},
		"19x19 of 43x32":        {blink(image.Rect(50, 40, 69, 59), 6, grey(0), grey(255)), "general " + field},
		"in a corner":           {blink(image.Rect(109, 77, 128, 96), 6, grey(0), grey(255)), "general " + field},
		"a quarter of screen":   {blink(image.Rect(0, 0, 64, 48), 6, grey(0), grey(255)), "general " + field},
		"more than a quarter":   {blink(image.Rect(0, 0, 64, 49), 6, grey(0), grey(255)), "general " + whole},
		"saturated red, dim":    {blink(all, 6, [3]byte{90, 0, 0}, grey(32)), "red " + whole},
		"red 3 a second":        {blink(all, 10, [3]byte{90, 0, 0}, grey(32)), ""},
		"green, dim":            {blink(all, 6, [3]byte{0, 60, 0}, grey(32)), ""},
		"red to a nearby red":   {blink(all, 6, [3]byte{90, 0, 0}, [3]byte{90, 30, 0}), ""},
		"noise of black":        {blink(all, 6, [3]byte{8, 0, 0}, grey(4)), ""},
		"red through a fade":    {func(k, _, _ int) [3]byte { return [3]byte{90, byte(18 * abs(k%10-5)), byte(18 * abs(k%10-5))} }, "red " + whole},
		"a slow wave of light":  {func(k, _, _ int) [3]byte { return grey(byte(min(255, 2*abs(k%256-128)))) }, ""},
		"a fast wave of light":  {func(k, _, _ int) [3]byte { return grey(byte(40 * abs(k%12-6))) }, "general " + whole},
		"halves in turn":        {func(k, x, _ int) [3]byte { return grey(byte(255 * ((k/6 + x/64) % 2))) }, "general " + whole},
		"coarse checkerboard":   {func(k, x, y int) [3]byte { return grey(byte(255 * ((k/6 + x/16 + y/16) % 2))) }, "general " + whole},
		"bars that wander":      {func(k, x, _ int) [3]byte { return grey(byte(255 * ((x + 128 - k) / 8 % 2))) }, ""},
		"texture that wanders":  {func(k, x, y int) [3]byte { return grey(byte(uint32((x+2*k)/4*7919+y/4*104729) * 2654435761 >> 24)) }, ""},
		"a flash every 400 ms":  {func(k, _, _ int) [3]byte { return grey(byte(255 * (1 - min(1, k%24)))) }, ""},
		"three flashes, a rest": {func(k, _, _ int) [3]byte { return grey(byte(255 * (k / 3 % 2) * b2i(k%60 < 18))) }, ""},
		"four flashes, a rest":  {func(k, _, _ int) [3]byte { return grey(byte(255 * (k / 3 % 2) * b2i(k%60 < 24))) }, "general " + whole},
	} {
		var got []string
		for _, f := range watch(flashSize, 120, test.draw) {
			place := field
			if strings.Contains(f.What, "BT.1702") {
				place = whole
			}
			got = append(got, strings.Fields(f.What)[0]+" "+place)
		}
		if strings.Join(got, ", ") != test.want {
			t.Errorf("%s: found %q, want %q", name, got, test.want)
		}
	}
}

func abs(n int) int { return max(n, -n) }

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// TestFlashEvidence: when the fourth flash ends, the most in a second, and in what words.
func TestFlashEvidence(t *testing.T) {
	compare(t, "5 Hz", watch(flashSize, 61, blink(image.Rectangle{Max: flashSize}, 6, grey(0), grey(255))),
		"harms: at 0.80 s: general flashes above the threshold of WCAG 2.3.1 and ITU-R BT.1702 (5 flashes within a second over 100 % of the picture; 3 are allowed, or 25 %)")
	compare(t, "a field", watch(flashSize, 61, blink(image.Rect(50, 40, 69, 59), 6, grey(0), grey(255))),
		"harms: at 0.80 s: general flashes above the threshold of WCAG 2.3.1 (5 flashes within a second over 26 % in a 10 degree visual field; 3 are allowed, or 25 %)")
}

// TestFlashShapes: fields of screens of all shapes lie inside the picture.
func TestFlashShapes(t *testing.T) {
	for _, size := range []image.Point{{256, 144}, {144, 256}, {160, 160}, {16, 9}, {1, 1}} {
		f := NewFlashes(size)
		for _, one := range f.fields {
			if one.Empty() || !one.In(image.Rectangle{Max: size}) {
				t.Errorf("%v: field %v", size, one.Rectangle)
			}
		}
		f.Add(0, make([]byte, 3*size.X*size.Y))
	}
}

func BenchmarkFlashes(b *testing.B) {
	size := image.Pt(256, 144)
	f, rgb := NewFlashes(size), make([]byte, 3*256*144)
	for k := 0; b.Loop(); k++ {
		for i := range rgb {
			rgb[i] = byte(i * (k + 7))
		}
		f.Add(time.Duration(k)*hz60.TimeOf(1), rgb)
	}
}
