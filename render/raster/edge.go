package raster

import (
	"context"
	"fmt"
	"image"
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"fairframe/render/finding"
	"fairframe/render/media"
)

// A Staircase is what an edge without smoothing shows of the raster that it was drawn at:
// each of its steps is one line of it, or one column.
type Staircase struct {
	Upright bool    // the edge is near-upright, its steps are columns
	Steps   int     // between the first level of the edge and its last
	Pixels  float64 // that they cover, of the capture
	To      int     // the capture's lines, or columns
	// From is how many lines, or columns, the edge was drawn at, Error by how much that may
	// be wrong: three standard errors of the fit.
	From, Error float64
	Levels      []Level
	Shown       time.Duration // capture time of the picture

	luma []byte
}

// A Level is a stretch of an edge between two steps.
type Level struct {
	From, To int     // along the edge, in pixels of the capture
	At       float64 // the edge's place across it
}

const (
	// fewestSteps is how many steps make a count.
	fewestSteps = 8
	// shortestLevel is how many pixels of a level stay level: a scaler's kernel rounds off
	// the others.
	shortestLevel = 3
	// contrastNeeded is how many codes the two sides of an edge must differ by.
	contrastNeeded = 30
	// reach is how far on both sides of the stated line the edge is sought, in pixels.
	reach = 8
)

// CountAt counts the steps of the edge near the line from a to b in the picture at a capture
// time, or the last one before it that is coded by itself.
func CountAt(ctx context.Context, t *media.Tools, c media.Capture, at time.Duration, a, b image.Point) (Staircase, error) {
	shown, luma, err := t.KeyPicture(ctx, c, 0, at)
	if err != nil {
		return Staircase{}, err
	}
	s, err := CountSteps(luma, c.Size, a, b)
	s.Shown, s.luma = shown, luma
	return s, err
}

// Verdict says what was counted, and what follows.
func (s Staircase) Verdict() string {
	of := "lines"
	if s.Upright {
		of = "columns"
	}
	num, den := s.Ratio()
	return fmt.Sprintf("%d steps in %.1f pixels: about %d/%d, %.0f of %d %s, give or take %.0f",
		s.Steps, s.Pixels, num, den, s.From, s.To, of, math.Ceil(s.Error))
}

// CountSteps follows the edge near the line from a to b in a picture's luma and counts its
// steps. It refuses an edge whose steps cannot be counted for sure.
func CountSteps(luma []byte, size image.Point, a, b image.Point) (s Staircase, err error) {
	stride := size.X
	at := func(along, over int) float64 { return float64(luma[over*stride+along]) }
	dx, dy := b.X-a.X, b.Y-a.Y
	s.To = size.Y
	if abs(dy) > abs(dx) {
		s.Upright, s.To = true, size.X
		at = func(along, over int) float64 { return float64(luma[along*stride+over]) }
		a, b, size = turned(a), turned(b), turned(size)
		dx, dy = dy, dx
	}
	if dx < 0 {
		a, b, dx, dy = b, a, -dx, -dy
	}
	bounds := image.Rectangle{Max: size}
	if !a.In(bounds) || !b.In(bounds) {
		return s, refuse("state both ends in pixels of the capture", "the edge leaves the picture of %dx%d pixels", size.X, size.Y)
	}
	if dy == 0 || abs(dy) < fewestSteps/2 {
		return s, refuse("choose a longer edge, or one that leans more", "the edge crosses too few lines to count steps")
	}
	places, err := follow(at, size, a, dx, dy)
	if err != nil {
		return s, err
	}
	s.Levels = levels(places, a.X)
	return s, s.fit(dx)
}

// follow finds the place of the edge at each pixel along it, to parts of a pixel: where a
// step as high as the edge would have to be to give the same sum across it.
func follow(at func(along, over int) float64, size image.Point, a image.Point, dx, dy int) ([]float64, error) {
	places := make([]float64, dx+1)
	for i := range places {
		centre := a.Y + int(math.Round(float64(dy*i)/float64(dx)))
		from, to := max(0, centre-reach), min(size.Y, centre+reach+1)
		if to-from < reach {
			return nil, refuse("choose an edge further inside", "the edge is too close to the picture's border")
		}
		first := (at(a.X+i, from) + at(a.X+i, from+1)) / 2
		last := (at(a.X+i, to-1) + at(a.X+i, to-2)) / 2
		if math.Abs(first-last) < contrastNeeded {
			return nil, refuse("state its ends more exactly, or choose one between plainer areas",
				"no edge of %d codes lies within %d pixels of the line at %d", contrastNeeded, reach, a.X+i)
		}
		sum := 0.0
		for over := from; over < to; over++ {
			sum += (at(a.X+i, over) - last) / (first - last)
		}
		places[i] = float64(from) + sum
	}
	return places, nil
}

// levels are the stretches in which the edge stays level.
func levels(places []float64, first int) (list []Level) {
	const still = 0.06 // of a pixel from one pixel to the next
	for i := 0; i < len(places); {
		j := i + 1
		for j < len(places) && math.Abs(places[j]-places[j-1]) <= still && math.Abs(places[j]-places[i]) <= 2*still {
			j++
		}
		if j-i >= shortestLevel {
			list = append(list, Level{first + i, first + j, stat.Mean(places[i:j], nil)})
		}
		i = j
	}
	// A level that noise cut in two is one.
	merged := list[:0]
	for _, l := range list {
		if n := len(merged); n > 0 && math.Abs(merged[n-1].At-l.At) < 0.25 {
			merged[n-1].To = l.To
			continue
		}
		merged = append(merged, l)
	}
	return merged
}

// fit finds the distance of the levels, each one step from the last.
func (s *Staircase) fit(length int) error {
	if len(s.Levels) < fewestSteps+1 {
		return refuse("steps must be at least 8 pixels long: choose an edge that leans less, is longer, and is not smoothed",
			"%d steps are clear, which is too few to count", max(0, len(s.Levels)-1))
	}
	level := 0
	for _, l := range s.Levels {
		level += l.To - l.From
	}
	// Steps that follow each other differ by one source pixel in length. Were every second
	// one too short to be seen, the others would fill less than 0.6 or be less than 8 apart.
	first, last := s.Levels[0], s.Levels[len(s.Levels)-1]
	if covered := last.To - first.From; level*5 < covered*3 || level*2 < length || covered < 8*len(s.Levels) {
		return refuse("choose an edge without smoothing, that leans less",
			"the edge is smooth or too steep: %d of its %d pixels lie in clear steps", level, length)
	}
	var n, at []float64
	for i, l := range s.Levels {
		n, at = append(n, float64(i)), append(at, l.At)
	}
	offset, step := stat.LinearRegression(n, at, nil, false)
	spread := 0.0
	for i := range at {
		d := at[i] - offset - step*n[i]
		if math.Abs(d) > 0.3*math.Abs(step) {
			return refuse("choose an edge whose steps are all alike", "the edge's steps differ by more than a third of a step: they cannot be counted for sure")
		}
		spread += d * d
	}
	// The standard error of a regression's slope over 0, 1, …, k-1.
	k := float64(len(at))
	deviation := 3 * math.Sqrt(spread/(k-2)/(k*(k*k-1)/12))
	step = math.Abs(step)
	s.Steps = len(s.Levels) - 1
	s.Pixels = step * float64(s.Steps)
	s.From = float64(s.To) / step
	s.Error = s.From * max(deviation, 0.02/k) / step
	if s.Error > 0.02*s.From {
		return refuse("choose a longer edge", "the steps give %.0f of %d, give or take %.0f: too uncertain", s.From, s.To, s.Error)
	}
	return nil
}

// Ratio is the simplest fraction that the steps may stand for.
func (s Staircase) Ratio() (num, den int) {
	for den = 1; ; den++ {
		num = int(math.Round(s.From / float64(s.To) * float64(den)))
		if num > 0 && math.Abs(float64(num)/float64(den)*float64(s.To)-s.From) <= s.Error {
			return num, den
		}
	}
}

func refuse(hint, format string, args ...any) error {
	return &finding.Error{Msg: fmt.Sprintf(format, args...), Hint: hint}
}

func turned(p image.Point) image.Point { return image.Pt(p.Y, p.X) }

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}
