package layout

import (
	"fmt"
	"image"
)

// View is how a scene arranges its panes. A new view is one more constant, its
// name, and one tiling function.
type View int

const (
	Columns View = iota // side by side, left to right
)

// String returns the word the comparison file uses.
func (v View) String() string {
	if v == Columns {
		return "columns"
	}
	return fmt.Sprintf("View(%d)", int(v))
}

// tiler returns the function that cuts a picture area into n panes, which tile
// it, and the dividers on their boundaries.
func (v View) tiler() (func(picture image.Rectangle, n int) (panes, dividers []image.Rectangle), error) {
	switch v {
	case Columns:
		return columns, nil
	}
	return nil, fmt.Errorf("layout: unknown view %v (valid: %v)", v, Columns)
}

// columns cuts the picture from left to right into panes of even width that
// differ by two pixels at most.
func columns(picture image.Rectangle, n int) (panes, dividers []image.Rectangle) {
	pairs := picture.Dx() / 2
	// Dividers need even edges and their centre on an even boundary, so half a
	// divider is even: 4 pixels at 1080 lines.
	half := 2 * max(1, (min(picture.Dx(), picture.Dy())+270)/1080)
	for i := range n {
		p := picture
		p.Min.X = picture.Min.X + 2*(pairs*i/n)
		p.Max.X = picture.Min.X + 2*(pairs*(i+1)/n)
		panes = append(panes, p)
		if i > 0 {
			dividers = append(dividers, image.Rect(p.Min.X-half, p.Min.Y, p.Min.X+half, p.Max.Y))
		}
	}
	return panes, dividers
}
