package fonts

import (
	"encoding/binary"
	"image"
	"math/rand/v2"
	"strings"
	"testing"

	"golang.org/x/image/math/fixed"
)

// FuzzFont spoils a font: whatever a font file holds, it is refused or can be
// drawn with, in the room that text takes.
func FuzzFont(f *testing.F) {
	for seed := range uint64(40) {
		f.Add(seed, uint(1+seed%30), uint(0), uint16(2000))
		f.Add(seed, uint(1), uint(seed*977), uint16(2000))
	}
	// Letters of thousands of ems, which would take gigabytes.
	for _, units := range []uint16{0, 1, 15, 16, 64, 16384, 16385, 65535} {
		f.Add(uint64(0), uint(0), uint(0), units)
	}
	head := table(f, boldOTF, "head")
	set, err := New()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, seed uint64, flips, cut uint, units uint16) {
		data := append([]byte(nil), boldOTF...)
		binary.BigEndian.PutUint16(data[head+18:], units) // to the em
		r := rand.New(rand.NewPCG(seed, 1))
		for range min(flips, 200) {
			// The tables' directory comes first; what it leads to matters most.
			at := r.IntN(len(data))
			if r.IntN(3) == 0 {
				at = r.IntN(400)
			}
			data[at] ^= 1 << r.IntN(8)
		}
		data = data[:len(data)-int(cut%uint(len(data)))]
		with, err := set.With("spoilt.otf", data)
		if err != nil {
			return
		}
		text := "Kestrel 59.94 fps, ÄÖÜ…"
		if with.Missing(text) != nil {
			return
		}
		face, err := with.Face(Bold, 20)
		if err != nil {
			return
		}
		face.Paint(image.NewAlpha(image.Rect(0, 0, 400, 40)), fixed.P(5, 30), text)
		face.Fit(text, fixed.I(60))
		face.Wrap(text, fixed.I(60), 3)
		if mask := face.Mask(fixed.P(5, 30), text); mask.Rect.Dx() > 1<<14 || mask.Rect.Dy() > 1<<14 {
			t.Errorf("a line of text takes %v", mask.Rect)
		}
	})
}

// table finds a table of a font (OpenType, "Table Directory").
func table(t testing.TB, data []byte, tag string) uint32 {
	for at := 12; at < 12+16*int(binary.BigEndian.Uint16(data[4:])); at += 16 {
		if string(data[at:at+4]) == tag {
			return binary.BigEndian.Uint32(data[at+8:])
		}
	}
	t.Fatalf("no table %s", tag)
	return 0
}

// TestFontOfGiants: a font whose letters are thousands of ems wide, or say so, is
// refused, as OpenType has it (table head).
func TestFontOfGiants(t *testing.T) {
	set, err := New()
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		units uint16
		words string
	}{{1, "1 units to the em (OpenType has 16 to 16384)"}, {16, "its lines are "}, {65535, "65535 units to the em"}, {2000, ""}} {
		data := append([]byte(nil), boldOTF...)
		binary.BigEndian.PutUint16(data[table(t, data, "head")+18:], tt.units)
		if _, err := set.With("giant.otf", data); (err == nil) != (tt.words == "") || err != nil && !strings.Contains(err.Error(), tt.words) {
			t.Errorf("%d units: error %v", tt.units, err)
		}
	}
}
