package measure

import "image"

// Settings say which part of the pictures decides. The zero value is the
// whole picture.
type Settings struct {
	Region image.Rectangle   // what counts; empty means the whole picture
	Ignore []image.Rectangle // what does not, such as a HUD that moves at another rate; grows to whole cells of 8x8 pixels
}
