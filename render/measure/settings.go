package measure

import (
	"fmt"
	"image"
	"time"
)

// Settings say which part of the pictures decides. The zero value is the
// whole picture.
type Settings struct {
	// Region is what counts, in pixels of the capture; empty means the whole
	// picture.
	Region image.Rectangle
	// Ignore is what does not count, such as a HUD that moves at another rate
	// than the game. Each rectangle grows to whole cells of 8x8 pixels, counted
	// from the region's corner.
	Ignore []image.Rectangle
	// Whole says that no frame begins in mid-picture, as on a machine with v-sync:
	// no tears are searched for.
	Whole bool `json:",omitempty"`
}

// smallest is the least width and height of what is measured: less than two
// cells hold too little to tell noise from motion.
const smallest = 2 * cellSize

// maxSide bounds width and height, so that sums of levels fit their types.
const maxSide = 16384

// StillAfter is how long a picture must not have changed to be called still
// rather than a long frame: twice the longest frame time of 4 frames a second
// that anyone would still call play. Hitches of up to 400 ms stay frames.
const StillAfter = 500 * time.Millisecond

// resolve checks the settings against a capture's size and fills the region in.
func (s Settings) resolve(size image.Point) (Settings, error) {
	if size.X < smallest || size.Y < smallest || size.X > maxSide || size.Y > maxSide {
		return s, fmt.Errorf("measure: capture of %dx%d is not between %dx%d and %dx%d", size.X, size.Y, smallest, smallest, maxSide, maxSide)
	}
	all := image.Rectangle{Max: size}
	if s.Region.Empty() {
		if s.Region != (image.Rectangle{}) {
			return s, fmt.Errorf("measure: region %s is empty", describe(s.Region))
		}
		s.Region = all
	}
	if !s.Region.In(all) {
		return s, fmt.Errorf("measure: region %s reaches out of the capture (%dx%d)", describe(s.Region), size.X, size.Y)
	}
	if s.Region.Dx() < smallest || s.Region.Dy() < smallest {
		return s, fmt.Errorf("measure: region %s is smaller than %dx%d", describe(s.Region), smallest, smallest)
	}
	for _, r := range s.Ignore {
		if r.Empty() || !r.Overlaps(all) {
			return s, fmt.Errorf("measure: ignored rectangle %s is not in the capture (%dx%d)", describe(r), size.X, size.Y)
		}
	}
	return s, nil
}

// describe returns a rectangle as x,y,w,h, the form it is given in.
func describe(r image.Rectangle) string {
	return fmt.Sprintf("%d,%d,%d,%d", r.Min.X, r.Min.Y, r.Dx(), r.Dy())
}
