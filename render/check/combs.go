package check

import (
	"fmt"
	"image"
	"time"
)

// Combs looks for the comb that two fields of different times make of whatever
// moves, in captures that call themselves progressive. Lines that stand still, as a
// game may draw them for effect, are none.
type Combs struct {
	size          image.Point
	moving, still comb
}

// comb counts pixels, those that differ alike from the pixels above and below, and
// those that differ so from the pixels on either side.
type comb struct{ pixels, upright, across int64 }

// NewCombs returns Combs for pictures of that size.
func NewCombs(size image.Point) *Combs { return &Combs{size: size} }

const (
	// toothed is a difference of luma codes that an encoder does not make.
	toothed = 12
	// combed is the share of what moves that is combed; pictures of two fields have
	// much more, and progressive ones of even the finest texture less.
	combed = 0.10
	// combedMore is how many times as often what moves is combed as what stands
	// still, and upright as across.
	combedMore = 4
	// leastMoving is the share of the pixels that must move for anything to be said.
	leastMoving = 0.01
)

// Add takes two packed pictures of 8-bit luma codes, of which the second follows the
// first.
func (c *Combs) Add(first, second []byte) {
	w := c.size.X
	tooth := func(a, b, d byte) bool {
		p, q := int(a)-int(b), int(d)-int(b)
		return p >= toothed && q >= toothed || p <= -toothed && q <= -toothed
	}
	for y := 1; y < c.size.Y-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			k := &c.still
			if d := int(second[i]) - int(first[i]); d >= toothed || d <= -toothed {
				k = &c.moving
			}
			k.pixels++
			if tooth(second[i-w], second[i], second[i+w]) {
				k.upright++
			}
			if tooth(second[i-1], second[i], second[i+1]) {
				k.across++
			}
		}
	}
}

func part(n, of int64) float64 { return float64(n) / float64(max(1, of)) }

// Findings judges what was seen.
func (c *Combs) Findings(at time.Duration) []Finding {
	moving, still := part(c.moving.upright, c.moving.pixels), part(c.still.upright, c.still.pixels)
	if part(c.moving.pixels, c.moving.pixels+c.still.pixels) < leastMoving || moving < combed ||
		moving < combedMore*still || moving < combedMore*part(c.moving.across, c.moving.pixels) {
		return nil
	}
	return []Finding{Finding{Severity: Misleads, What: "the pictures look interlaced",
		Evidence: fmt.Sprintf("%.0f %% of what moves is combed, and %.1f %% of what stands still",
			100*moving, 100*still),
		Remedy: "record progressive, or deinterlace the capture first: two moments in one picture " +
			"have no pacing"}.AtTime(at)}
}
