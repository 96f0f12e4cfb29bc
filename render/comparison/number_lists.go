package comparison

import (
	"image"
	"reflect"
	"strconv"

	"go.yaml.in/yaml/v3"
)

// Values that are lists of numbers: points, regions, axes and boxes.

// readPoint reads a list of two fractions, x and y.
func readPoint(d *decoder, v *Point, n *yaml.Node, name string, _ reflect.StructTag) bool {
	var r [2]Ratio
	if !d.numbers(n, name, "[x, y] with fractions from 0 to 1", r[:]) {
		return false
	}
	one := Ratio{Num: 1, Den: 1}
	for i, item := range n.Content {
		if r[i].Cmp(one) > 0 {
			return d.fail(item, "[0.5, 0.5] is the middle, [0, 0] the top left corner",
				"%s: %s is outside 0 to 1", name, item.Value)
		}
	}
	*v = Point{r[0], r[1]}
	return true
}

// readRegion reads a part of a capture: a list of x, y, width and height in fractions
// of it.
func readRegion(d *decoder, v *[2]Point, n *yaml.Node, name string, _ reflect.StructTag) bool {
	const expected = "[x, y, width, height] with fractions from 0 to 1"
	var r [4]Ratio
	if !d.numbers(n, name, expected, r[:]) {
		return false
	}
	for i, what := range [...]string{"width", "height"} {
		far, err := plus(r[i], r[i+2])
		switch {
		case r[i+2].Num == 0:
			return d.fail(n.Content[i+2], "", "%s: the %s is nothing", name, what)
		case err != nil:
			return d.fail(n.Content[i+2], "", "%s: %v", name, err)
		case far.Cmp(Ratio{Num: 1, Den: 1}) > 0:
			return d.fail(n.Content[i+2], "fractions: [0.4, 0.4, 0.2, 0.2] is the middle fifth each way",
				"%s: %s and %s %s reach beyond the capture, to %s",
				name, n.Content[i].Value, what, n.Content[i+2].Value, far)
		}
		r[i+2] = far
	}
	*v = [2]Point{{r[0], r[1]}, {r[2], r[3]}}
	return true
}

// readArrow reads a list of two points, tail and tip.
func readArrow(d *decoder, v *[2]Point, n *yaml.Node, name string, _ reflect.StructTag) bool {
	const expected = "[[x, y], [x, y]], its tail and its tip"
	if !d.listOf(2, n, name, expected) {
		return false
	}
	from := readPoint(d, &v[0], n.Content[0], name, "")
	ok := readPoint(d, &v[1], n.Content[1], name, "") && from
	if ok && v[0] == v[1] {
		return d.fail(n, "", "%s: tail and tip are at one place", name)
	}
	return ok
}

// readPlaces reads where lines stand: a fraction, or a list of up to three.
func readPlaces(d *decoder, v *[]Ratio, n *yaml.Node, name string, _ reflect.StructTag) bool {
	items := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		items = n.Content
	}
	if len(items) < 1 || len(items) > 3 {
		return d.fail(n, "", "%s: expected one fraction or a list of two or three, found a list of %d",
			name, len(items))
	}
	for _, item := range items {
		r, ok := d.number(item, name, "a fraction from 0 to 1, or a list of them")
		switch {
		case !ok:
			return false
		case r.Cmp(Ratio{Num: 1, Den: 1}) > 0:
			return d.fail(item, "0 is the left or upper edge, 1 the right or lower one",
				"%s: %s is outside 0 to 1", name, item.Value)
		case len(*v) > 0 && r.Cmp((*v)[0]) < 0:
			return d.fail(item, "write the smaller one first", "%s: %s is before %s",
				name, item.Value, (*v)[0])
		}
		*v = append(*v, r)
	}
	return true
}

// readAxis reads a list of two numbers, the lower and the upper end.
func readAxis(d *decoder, v *Axis, n *yaml.Node, name string, tag reflect.StructTag) bool {
	var r [2]Ratio
	if !d.numbers(n, name, "[lowest, highest]", r[:]) {
		return false
	}
	most := tagRatio(tag, "max")
	switch {
	case r[0].Cmp(r[1]) >= 0:
		return d.fail(n, "", "%s: the lower end %s is not below the upper end %s",
			name, n.Content[0].Value, n.Content[1].Value)
	case r[1].Cmp(most) > 0:
		return d.fail(n.Content[1], "", "%s: %s is outside 0 to %s", name, n.Content[1].Value, most)
	}
	*v = Axis{r[0].Float(), r[1].Float()}
	return true
}

// maxBox bounds a box's numbers: no capture is larger.
const maxBox = 1 << 14

// readBox reads a rectangle of the capture: a list of x, y, width and height.
func readBox(d *decoder, v *image.Rectangle, n *yaml.Node, name string, _ reflect.StructTag) bool {
	const expected = "[x, y, width, height] in pixels of the capture"
	if !d.listOf(4, n, name, expected) {
		return false
	}
	var r [4]int
	for i, item := range n.Content {
		s, ok := d.scalar(item, name, "a whole number")
		if !ok {
			return false
		}
		num, err := strconv.Atoi(s)
		if err != nil || num < 0 || num > maxBox || i >= 2 && num == 0 {
			return d.fail(item, "", "%s: %s is no %s",
				name, quote(s), [...]string{"x", "y", "width", "height"}[i])
		}
		r[i] = num
	}
	*v = image.Rect(r[0], r[1], r[0]+r[2], r[1]+r[3])
	return true
}

// numbers reads a list of so many numbers.
func (d *decoder) numbers(n *yaml.Node, name, expected string, r []Ratio) bool {
	if !d.listOf(len(r), n, name, expected) {
		return false
	}
	ok := true
	for i, item := range n.Content {
		one, is := d.number(item, name, "a number")
		r[i], ok = one, ok && is
	}
	return ok
}

// listOf makes sure that there is a list of so many.
func (d *decoder) listOf(count int, n *yaml.Node, name, expected string) bool {
	switch {
	case n.Kind != yaml.SequenceNode:
		return d.fail(n, "", "%s: expected %s, found %s", name, expected, found(n))
	case len(n.Content) != count:
		return d.fail(n, "", "%s: expected %s, found a list of %d", name, expected, len(n.Content))
	}
	return true
}

// number reads one exact number.
func (d *decoder) number(n *yaml.Node, name, expected string) (Ratio, bool) {
	s, ok := d.scalar(n, name, expected)
	if !ok {
		return Ratio{}, false
	}
	r, err := parseRatio(s)
	if err != nil {
		return Ratio{}, d.fail(n, "", "%s: %v", name, err)
	}
	return r, true
}
