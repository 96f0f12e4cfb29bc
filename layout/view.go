package layout

import (
	"fmt"
	"image"
	"slices"
)

// View is how a scene arranges its panes. A new view is one more constant, its
// name, and its case in arrange.
type View int

const (
	Columns    View = iota // side by side, left to right; four of them two by two
	Rows                   // one above the other
	Single                 // one capture alone
	Inset                  // one capture whole, and a window of each
	Wipe                   // all in one place, parted by a line
	Alternate              // all in one place, one after the other
	Difference             // what pairs of captures do not have in common
)

var viewNames = [...]string{"columns", "rows", "single", "inset", "wipe", "alternate", "difference"}

// String returns the word the comparison file uses.
func (v View) String() string {
	if v >= 0 && int(v) < len(viewNames) {
		return viewNames[v]
	}
	return fmt.Sprintf("View(%d)", int(v))
}

// ParseView returns the view that the comparison file calls so.
func ParseView(word string) (View, bool) {
	i := slices.Index(viewNames[:], word)
	return View(i), i >= 0
}

// Limits returns how many captures the view takes, at least and at most. A line, a
// turn and a difference need two; four captures would have six differences.
func (v View) Limits() (least, most int) {
	switch v {
	case Wipe, Alternate:
		return 2, MaxCaptures
	case Difference:
		return 2, 3
	}
	return MinCaptures, MaxCaptures
}

// Takes reports whether the view can show n captures.
func (v View) Takes(n int) bool {
	least, most := v.Limits()
	return least <= n && n <= most
}

// Role is what a pane shows of its capture.
type Role int

const (
	AsWindow Role = iota // the scene's window
	AsWhole              // the entire capture
	AsMinus              // what its window and another capture's do not have in common
)

// Pane is a rectangle of the output in which a capture appears.
type Pane struct {
	Area    image.Rectangle
	Role    Role
	Capture int // index
	Other   int // with AsMinus: index of the capture it is compared with
}

// stacked reports whether the view has captures below each other. Such panes always
// stand above the deck: under a translucent one the lowest would be lost.
func (a arrangement) stacked() bool {
	s := a.spec
	switch s.View {
	case Rows:
		return s.Captures > 1
	case Columns:
		return a.grid()
	case Wipe:
		return s.Lying
	case Inset:
		return !s.Over
	case Difference:
		return !s.Alone && (s.Captures > 2 || a.shape == tall)
	}
	return false
}

// grid reports whether the panes stand two by two.
func (a arrangement) grid() bool { return a.spec.View == Columns && a.spec.Captures > 3 }

// ranks reports whether the panes are rows, each with its tabs below.
func (a arrangement) ranks() bool {
	return a.spec.View == Rows || a.grid() || a.spec.View == Difference && a.spec.Captures == 2 &&
		!a.spec.Alone && a.shape == tall
}

// slots is how many labels stand side by side in the tab row.
func (a arrangement) slots() int {
	switch {
	case a.grid():
		return 2
	case a.ranks():
		return 1
	case a.spec.View == Difference && a.spec.Captures == 2 && !a.spec.Alone:
		return 3
	}
	return a.spec.Captures
}

// arrange cuts the picture area into panes. seen is the part of it that no
// translucent deck covers.
func (a arrangement) arrange(picture, seen image.Rectangle) []Pane {
	n := a.spec.Captures
	each := func(areas []image.Rectangle) []Pane {
		panes := make([]Pane, n)
		for i := range panes {
			panes[i] = Pane{Area: areas[i%len(areas)], Capture: i}
		}
		return panes
	}
	switch a.spec.View {
	case Rows:
		return each(rows(picture, n, a.between()))
	case Single:
		return []Pane{{Area: picture, Capture: a.spec.Main}}
	case Inset:
		return a.inset(picture, seen)
	case Wipe, Alternate:
		return each([]image.Rectangle{picture})
	case Difference:
		return a.difference(picture, each)
	}
	if !a.grid() {
		return each(columns(picture, n))
	}
	var areas []image.Rectangle
	for _, row := range rows(picture, 2, a.between()) {
		areas = append(areas, columns(row, 2)...)
	}
	return each(areas)
}

// between is the height of the bar between panes that are ranks: a tab, where
// the deck's ground is there to carry it.
func (a arrangement) between() int {
	if a.spec.Tabs && a.spec.Place == Below {
		return a.tabRow()
	}
	return 0
}

func (a arrangement) difference(picture image.Rectangle, each func([]image.Rectangle) []Pane) []Pane {
	n := a.spec.Captures
	pairs := []Pane{{Role: AsMinus, Capture: 0, Other: 1}}
	if n > 2 {
		pairs = []Pane{{Role: AsMinus, Capture: 0, Other: 1}, {Role: AsMinus, Capture: 1, Other: 2},
			{Role: AsMinus, Capture: 2, Other: 0}}
	}
	put := func(areas []image.Rectangle) []Pane {
		for i := range pairs {
			pairs[i].Area = areas[i]
		}
		return pairs
	}
	switch {
	case a.spec.Alone:
		return put(columns(picture, len(pairs)))
	case n > 2:
		// Each difference stands under the first of its pair.
		halves := rows(picture, 2, 0)
		return append(each(columns(halves[0], n)), put(columns(halves[1], n))...)
	}
	areas := columns(picture, 3)
	if a.shape == tall {
		areas = rows(picture, 3, a.between())
	}
	return append(each(areas), put(areas[2:])...)
}

// inset places the whole capture and the windows: beside it the windows take a
// column, or a row where the picture is narrow, and over it they stand within
// the safe area, away from what they magnify.
func (a arrangement) inset(picture, seen image.Rectangle) []Pane {
	n := a.spec.Captures
	shape := a.spec.Shape
	if shape.X <= 0 || shape.Y <= 0 {
		shape = image.Pt(16, 9)
	}
	panes := []Pane{{Role: AsWhole, Capture: a.spec.Main}}
	add := func(areas []image.Rectangle) []Pane {
		for i, r := range areas {
			panes = append(panes, Pane{Area: r, Capture: i})
		}
		return panes
	}
	if a.spec.Over {
		panes[0].Area = picture
		return add(a.lain(seen, n))
	}
	w, h := picture.Dx(), picture.Dy()
	main, rest := picture, picture
	if 3*w >= 4*h {
		main.Max.X = picture.Min.X + even(min(max(h*shape.X/shape.Y, w*55/100), w*72/100))
		rest.Min.X = main.Max.X
		panes[0].Area = main
		return add(rows(rest, n, 0))
	}
	main.Max.Y = picture.Min.Y + even(min(max(w*shape.Y/shape.X, h*45/100), h*70/100))
	rest.Min.Y = main.Max.Y
	panes[0].Area = main
	return add(columns(rest, n))
}

// lain places n windows over what is seen of the picture: in a column at its
// right, or in a row at its foot where it is narrow; on the other side when what
// they magnify lies there.
func (a arrangement) lain(seen image.Rectangle, n int) []image.Rectangle {
	gap := max(2, even(a.ems(8)))
	// Even edges, inwards.
	in := seen.Intersect(a.safe)
	if seen.Max.Y < a.safe.Max.Y {
		in.Max.Y -= gap
	}
	in = image.Rect((in.Min.X+1)&^1, (in.Min.Y+1)&^1, even(in.Max.X), even(in.Max.Y))
	var list []image.Rectangle
	if 3*seen.Dx() >= 4*seen.Dy() {
		w := max(2, even(seen.Dx()*28/100))
		h := max(2, even(min((in.Dy()-(n-1)*gap)/n, w*3/4)))
		x := in.Max.X - w
		if a.spec.Opposite {
			x = in.Min.X
		}
		y := in.Min.Y
		for range n {
			list = append(list, image.Rect(x, y, x+w, y+h))
			y += h + gap
		}
		return list
	}
	w := max(2, even((in.Dx()-(n-1)*gap)/n))
	h := max(2, even(min(seen.Dy()*34/100, w*3/4)))
	x, y := in.Min.X, in.Max.Y-h
	if a.spec.Opposite {
		y = in.Min.Y
	}
	for range n {
		list = append(list, image.Rect(x, y, x+w, y+h))
		x += w + gap
	}
	return list
}

// columns cuts a rectangle from left to right into n of even width that differ
// by two pixels at most.
func columns(r image.Rectangle, n int) []image.Rectangle {
	pairs := r.Dx() / 2
	var list []image.Rectangle
	for i := range n {
		c := r
		c.Min.X = r.Min.X + 2*(pairs*i/n)
		c.Max.X = r.Min.X + 2*(pairs*(i+1)/n)
		list = append(list, c)
	}
	return list
}

// rows cuts a rectangle from top to bottom into n of even height that differ by
// two pixels at most, with a bar between each two.
func rows(r image.Rectangle, n, bar int) []image.Rectangle {
	pairs := (r.Dy() - (n-1)*bar) / 2
	var list []image.Rectangle
	for i := range n {
		c := r
		c.Min.Y = r.Min.Y + 2*(pairs*i/n) + i*bar
		c.Max.Y = r.Min.Y + 2*(pairs*(i+1)/n) + i*bar
		list = append(list, c)
	}
	return list
}

// dividers are bars over the boundaries between panes that meet, and around
// panes that lie over another.
func dividers(picture image.Rectangle, panes []Pane) []image.Rectangle {
	// Dividers need even edges and their centre on an even boundary, so half a
	// divider is even: 4 pixels at 1080 lines.
	half := 2 * max(1, (min(picture.Dx(), picture.Dy())+270)/1080)
	var list []image.Rectangle
	for j, p := range panes {
		for _, q := range panes[:j] {
			one, two := q.Area, p.Area
			top, bottom := max(one.Min.Y, two.Min.Y), min(one.Max.Y, two.Max.Y)
			left, right := max(one.Min.X, two.Min.X), min(one.Max.X, two.Max.X)
			switch {
			case one == two:
			case one.Overlaps(two):
				list = append(list, frame(two, half)...)
			case one.Max.X == two.Min.X && top < bottom:
				list = append(list, image.Rect(two.Min.X-half, top, two.Min.X+half, bottom))
			case one.Max.Y == two.Min.Y && left < right:
				list = append(list, image.Rect(left, two.Min.Y-half, right, two.Min.Y+half))
			}
		}
	}
	return list
}

// frame returns four bars around r, outside of it.
func frame(r image.Rectangle, width int) []image.Rectangle {
	return []image.Rectangle{
		image.Rect(r.Min.X-width, r.Min.Y-width, r.Max.X+width, r.Min.Y),
		image.Rect(r.Min.X-width, r.Max.Y, r.Max.X+width, r.Max.Y+width),
		image.Rect(r.Min.X-width, r.Min.Y, r.Min.X, r.Max.Y),
		image.Rect(r.Max.X, r.Min.Y, r.Max.X+width, r.Max.Y),
	}
}
