package scene

import (
	"image"
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// addWipe puts a line between the panes, which share one place. Along an upright or a
// lying line that stands still, the panes are cut; any other line needs a matte.
func (c *composition) addWipe(s *comparison.Scene, r pacing.Rate) {
	for i, side := range sides(s.Wipe.Angle, len(c.panes)) {
		c.notes[i] = strings.TrimSuffix(side+" · "+c.notes[i], " · ")
	}
	path := wipePath{At: floats(s.Wipe.At), Swing: s.Wipe.Swing}
	for _, k := range s.Wipe.Keys {
		path.Keys = append(path.Keys, wipeKey{T: k.T, At: floats(k.At)})
	}
	picture := c.panes[0].Area
	half := 2 * max(1, (min(picture.Dx(), picture.Dy())+270)/1080) // as of dividers
	if path.Still() && c.cutAt(path.At, s.Wipe.Angle, half) {
		return
	}
	m := &graph.Matte{Half: half, Still: path.Still()}
	field := wipeField{Size: picture.Size(), Angle: s.Wipe.Angle, Reach: m.Reach(),
		Codes: graph.MatteCode(1, 2)}
	m.Draw = func(dst []byte, k int) { field.Draw(dst, path.Places(r.TimeOf(int64(k)))) }
	c.wipe = m
}

// sides are the words for where the captures stand in a wipe.
func sides(angle, n int) []string {
	words := []string{"left", "middle", "right"}
	switch {
	case angle > 45:
		words = []string{"top", "middle", "bottom"}
	case angle < -45:
		words = []string{"bottom", "middle", "top"}
	}
	switch n {
	case 2:
		return []string{words[0], words[2]}
	case 4:
		return []string{words[0], "second", "third", words[2]}
	}
	return words
}

func floats(list []comparison.Ratio) []float64 {
	var out []float64
	for _, r := range list {
		out = append(out, r.Float())
	}
	return out
}

// cutAt cuts the panes apart along upright or lying lines; it reports whether
// that can be done.
func (c *composition) cutAt(places []float64, angle, half int) bool {
	moves := slices.ContainsFunc(c.panes, func(p graph.Pane) bool { return p.Glide != nil })
	if moves || angle != 0 && angle != 90 && angle != -90 {
		return false
	}
	picture := c.panes[0].Area
	long := picture.Dx()
	if angle != 0 {
		long = picture.Dy()
	}
	cuts := []int{0}
	for _, p := range places {
		cuts = append(cuts, int(p*float64(long)/2+0.5)*2)
	}
	cuts = append(cuts, long)
	panes := slices.Clone(c.panes)
	var bars []image.Rectangle
	for i := range panes {
		from, to := cuts[i], cuts[i+1]
		if angle == -90 {
			from, to = long-to, long-from
		}
		r := image.Rectangle{Max: picture.Size()}
		bar := image.Rect(to-half, 0, to+half, r.Max.Y)
		if angle == 0 {
			r.Min.X, r.Max.X = from, to
		} else {
			r.Min.Y, r.Max.Y = from, to
			bar = image.Rect(0, to-half, r.Max.X, to+half)
		}
		if r.Dx() < 2 || r.Dy() < 2 {
			return false
		}
		shot, ok := panes[i].Shot.Cut(r)
		if !ok {
			return false
		}
		panes[i].Shot, panes[i].Area = shot, r.Add(picture.Min)
		if to < long {
			bars = append(bars, bar.Add(picture.Min).Intersect(picture))
		}
	}
	c.panes, c.dividers = panes, append(c.dividers, bars...)
	return true
}
