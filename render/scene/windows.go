package scene

import (
	"fmt"
	"image"
	"math/big"
	"strconv"
	"strings"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// glideOf works out how a window moves; nil when it stands still. Its stops belong to
// instants of the scene. Between them it moves in clip time, so it can move while the
// scene is held. seen is how many rows of the pane the deck does not cover.
func glideOf(s *comparison.Scene, w comparison.Window, one Take, pane, output image.Point, seen int,
	rate pacing.Rate) (*layout.Glide, error) {
	if len(w.Moves) == 0 {
		return nil, nil
	}
	passing, err := s.Time(rate)
	if err != nil {
		return nil, err
	}
	var stops []layout.Stop
	for _, m := range w.Moves {
		shot, err := windowOf(comparison.Window{Center: m.Center,
			Magnify: m.Magnify}).Shoot(one.Probed.DisplaySize(), pane, output)
		if err != nil {
			return nil, err
		}
		shot = shot.Raised(seen)
		if len(stops) == 0 && len(w.Moves) == 1 {
			stops = append(stops, layout.Stop{Frame: -1, Shot: shot}) // it stands there from the start
		}
		at := passing.ClipTime(m.At)
		at.Add(at, big.NewRat(int64(m.Held), 1e9))
		frame, _ := at.Mul(at, big.NewRat(rate.Num, rate.Den)).Float64()
		if n := len(stops); n > 0 && frame <= stops[n-1].Frame {
			return nil, &finding.Error{Msg: fmt.Sprintf("the window's move at %v ends after the next one begins",
				w.Moves[n-1].At), Hint: "held: is no longer than the hold at that instant"}
		}
		stops = append(stops, layout.Stop{Frame: frame, Shot: shot})
	}
	return layout.NewGlide(stops)
}

// PaneNote names the scale of a pane that is not one to one, "" otherwise. Of one
// that moves it names the scales of its stops, or the least and the greatest.
func PaneNote(p graph.Pane) string {
	if p.Glide == nil {
		return scaleNote(p.Shot, p.Kernel)
	}
	kernel := p.Kernel
	if x, y := p.Shot.Scales(); x.Cmp(y) != 0 {
		kernel += fmt.Sprintf(", pixels %sx as wide as high", ShortDecimal(new(big.Rat).Quo(x, y)))
	}
	var list []*big.Rat
	for _, scale := range p.Glide.Stops() {
		r := new(big.Rat).SetFloat64(scale)
		if len(list) == 0 || sizeText(list[len(list)-1]) != sizeText(r) {
			list = append(list, r)
		}
	}
	between := " → "
	if len(list) > 2 {
		least, most := p.Glide.Scales()
		list = []*big.Rat{new(big.Rat).SetFloat64(least), new(big.Rat).SetFloat64(most)}
		between = " to "
	}
	return scaleText(kernel, between, list...)
}

func windowOf(w comparison.Window) layout.Window {
	return layout.Window{Whole: w.Whole, CenterX: w.Center.X,
		CenterY: w.Center.Y, Magnify: w.Magnify}
}

// scaleNote names the scale of a picture that is not one to one, "" otherwise: a
// hidden scale misleads.
func scaleNote(s layout.Shot, kernel string) string {
	if s.OneToOne() {
		return ""
	}
	x, y := s.Scales()
	if x.Cmp(y) != 0 {
		return scaleText(kernel, " by ", x, y)
	}
	return scaleText(kernel, "", x)
}

// scaleText tells of scales in words that an audience knows: "3x, true pixels",
// "2x smooth", "33 % size".
func scaleText(kernel, between string, scales ...*big.Rat) string {
	var list []string
	reduced := true
	for _, r := range scales {
		list = append(list, sizeText(r))
		reduced = reduced && r.Cmp(big.NewRat(1, 1)) < 0
	}
	text := strings.Join(list, between)
	kernel, shape, _ := strings.Cut(kernel, ",")
	switch nearest := kernel == "nearest"; {
	case reduced && nearest:
		text += " size, pixels left out"
	case reduced:
		text += " size"
	case nearest:
		text += ", true pixels"
	default:
		text += " smooth"
	}
	if shape != "" {
		text += "," + shape
	}
	return text
}

// sizeText tells of one scale: "3x" of an enlargement, "33 %" of a reduction.
func sizeText(r *big.Rat) string {
	if r.Cmp(big.NewRat(1, 1)) >= 0 {
		return ShortDecimal(r) + "x"
	}
	f, _ := r.Float64()
	decimals := 0
	if f < 0.1 {
		decimals = 1
	}
	return strings.TrimSuffix(strconv.FormatFloat(100*f, 'f', decimals, 64), ".0") + " %"
}

// ShortDecimal prints a scale with at most two decimals, three below 0.1.
func ShortDecimal(r *big.Rat) string {
	f, _ := r.Float64()
	decimals := 2
	if f < 0.1 {
		decimals = 3
	}
	s := strconv.FormatFloat(f, 'f', decimals, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
