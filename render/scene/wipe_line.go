package scene

import (
	"image"
	"math"
	"slices"
	"time"
)

// wipePath says where the lines stand at a time, as fractions of the way across the
// picture. With neither keys nor swing they stand still.
type wipePath struct {
	At    []float64     // of each line, rising
	Keys  []wipeKey     // rising in time
	Swing time.Duration // over and back
}

// wipeKey is where the lines stand at one time.
type wipeKey struct {
	T  time.Duration
	At []float64
}

// wipeEdge is how near a swinging line comes to the picture's wipeEdge.
const wipeEdge = 0.1

// Still reports whether the lines never move.
func (p wipePath) Still() bool { return len(p.Keys) == 0 && p.Swing == 0 }

// Places returns where the lines stand at time t. Between keys they ease in and
// out along 3u²-2u³; a swing is a sine about At.
func (p wipePath) Places(t time.Duration) []float64 {
	list := slices.Clone(p.At)
	switch n := len(p.Keys); {
	case n > 0 && t <= p.Keys[0].T:
		return p.Keys[0].At
	case n > 0 && t >= p.Keys[n-1].T:
		return p.Keys[n-1].At
	case n > 0:
		i := 1
		for p.Keys[i].T < t {
			i++
		}
		a, b := p.Keys[i-1], p.Keys[i]
		u := float64(t-a.T) / float64(b.T-a.T)
		u = u * u * (3 - 2*u)
		for j := range list {
			list[j] = a.At[j] + u*(b.At[j]-a.At[j])
		}
	case p.Swing > 0:
		reach := max(0, min(list[0]-wipeEdge, 1-wipeEdge-list[len(list)-1]))
		by := reach * math.Sin(2*math.Pi*float64(t%p.Swing)/float64(p.Swing))
		for j := range list {
			list[j] += by
		}
	}
	return list
}

// wipeField is the picture that lines cross.
type wipeField struct {
	Size  image.Point
	Angle int // degrees, -90 to 90: 0 upright lines, 90 lying ones with what comes first above
	Reach int // over how many pixels on each side of a line the map slopes
	Codes int // the map's code beyond the last line
}

// Draw writes the map, one byte a pixel, for lines at those places: 0 before the
// first line, Codes beyond the last one, and equal steps between.
func (f wipeField) Draw(dst []byte, places []float64) {
	sin, cos := math.Sincos(float64(f.Angle) * math.Pi / 180)
	switch f.Angle { // exact, so that all rows or all columns are alike
	case 0:
		sin, cos = 0, 1
	case 90:
		sin, cos = 1, 0
	case -90:
		sin, cos = -1, 0
	}
	w, h := float64(f.Size.X), float64(f.Size.Y)
	from := min(0, sin*h)
	across := cos*w + math.Abs(sin)*h
	at := make([]float64, len(places))
	for i, p := range places {
		at[i] = from + p*across
	}
	reach, step := float64(f.Reach), float64(f.Codes)/float64(len(places))
	code := func(x, y int) byte {
		d := cos*(float64(x)+0.5) + sin*(float64(y)+0.5)
		sum := 0.0
		for _, p := range at {
			sum += step * min(1, max(0, (d-p+reach)/(2*reach)))
		}
		return byte(sum + 0.5)
	}
	for y := range f.Size.Y {
		row := dst[y*f.Size.X:][:f.Size.X]
		if sin == 0 && y > 0 {
			copy(row, dst[:f.Size.X])
			continue
		}
		if cos == 0 {
			fill(row, code(0, y))
			continue
		}
		cuts := []int{0, f.Size.X}
		for _, p := range at {
			x := (p - sin*(float64(y)+0.5)) / cos
			for _, e := range []float64{x - reach/cos - 1, x + reach/cos + 1} {
				cuts = append(cuts, int(min(max(e, 0), w)))
			}
		}
		slices.Sort(cuts)
		for i, a := range cuts[:len(cuts)-1] {
			b := cuts[i+1]
			if a == b {
				continue
			}
			// The code never falls along a row.
			if c := code(a, y); c == code(b-1, y) {
				fill(row[a:b], c)
				continue
			}
			for x := a; x < b; x++ {
				row[x] = code(x, y)
			}
		}
	}
}

func fill(b []byte, v byte) {
	for i := range b {
		b[i] = v
	}
}
