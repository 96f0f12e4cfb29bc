package check

import (
	"fmt"
	"image"
	"math"
	"strings"
	"time"

	"fairframe/render/media/graph"
)

// View is what a pane shows of a capture, at one of its window's stops if it moves.
type View struct {
	Capture, Pane    image.Point
	Scale            float64 // output pixels for each capture pixel
	Kernel           string
	Whole            bool
	CenterX, CenterY float64 // as asked for, in fractions of the capture
	Stop             string  // when it stands there; "": it stands still
}

// few is the scale from which a pane shows few pixels of a capture.
const few = 8

// Views judges a window, of one that moves all of its stops: one that would reach
// beyond the capture and is moved inside, one that leaves bars, and one that
// enlarges. Of each kind the worst is told.
func Views(stops ...View) []Finding {
	var reach, bars, large struct {
		by float64
		of View
	}
	for _, v := range stops {
		if !v.Whole {
			dx, dy := v.moved()
			if by := max(math.Abs(dx), math.Abs(dy)); by >= 2 && by > reach.by {
				reach.by, reach.of = by, v
			}
			w, h := v.scaled()
			if by := max(float64(v.Pane.X)-w, float64(v.Pane.Y)-h); by > 2 && by > bars.by {
				bars.by, bars.of = by, v
			}
		}
		if v.Scale > 1.0001 && v.Scale > large.by {
			large.by, large.of = v.Scale, v
		}
	}
	var list []Finding
	if v := reach.of; reach.by > 0 {
		dx, dy := v.moved()
		list = append(list, Finding{Severity: Note,
			What: "the window goes beyond the capture's edge and is moved inside",
			Evidence: fmt.Sprintf("%scentre [%.3f, %.3f], moved by %+.0f, %+.0f pixels of the capture",
				v.Stop, v.CenterX, v.CenterY, dx, dy),
			Remedy: "if the captures' windows must show the same place, move the centre inwards or " +
				"magnify more"})
	}
	if v := bars.of; bars.by > 0 {
		w, h := v.scaled()
		list = append(list, Finding{Severity: Note,
			What: "the window is larger than the capture and leaves bars",
			Evidence: fmt.Sprintf("%sthe scaled capture is %.0fx%.0f pixels, its pane %dx%d",
				v.Stop, w, h, v.Pane.X, v.Pane.Y),
			Remedy: "magnify more, or leave it so"})
	}
	if v := large.of; large.by > 0 {
		evidence := fmt.Sprintf("%s%.3gx %s; the name tab says so", v.Stop, v.Scale, v.Kernel)
		if v.Scale > few {
			evidence += fmt.Sprintf("; its pane holds %.0fx%.0f pixels of the capture",
				float64(v.Pane.X)/v.Scale, float64(v.Pane.Y)/v.Scale)
		}
		list = append(list, Finding{Severity: Note, What: "the picture is enlarged", Evidence: evidence,
			Remedy: "an enlarged picture is softer, or blockier, than the machine's own; compare " +
				"sharpness at one to one"})
	}
	return list
}

func (v View) moved() (dx, dy float64) {
	return moved(v.Capture.X, v.Pane.X, v.Scale, v.CenterX), moved(v.Capture.Y, v.Pane.Y, v.Scale, v.CenterY)
}

func (v View) scaled() (w, h float64) {
	return float64(v.Capture.X) * v.Scale, float64(v.Capture.Y) * v.Scale
}

// Scales judges whether captures stand side by side at one scale: by how much each
// enlarges the scene, whatever its own resolution, at some instants of the scene.
func Scales(instants []time.Duration, magnify [][]Named[float64]) []Finding {
	worst, at := 1.005, -1
	for i, list := range magnify {
		least, most := math.Inf(1), 0.0
		for _, one := range list {
			least, most = min(least, one.Value), max(most, one.Value)
		}
		if most/least > worst {
			worst, at = most/least, i
		}
	}
	if at < 0 {
		return nil
	}
	var parts []string
	for _, one := range magnify[at] {
		parts = append(parts, fmt.Sprintf("%s magnified %.4g", one.Key, one.Value))
	}
	return []Finding{Finding{Severity: Note, What: "the captures are shown at different scales",
		Evidence: strings.Join(parts, ", "),
		Remedy: "sharpness can be compared only at one scale: give the windows the same magnify, " +
			"unless the shots differ"}.AtTime(instants[at])}
}

// moved is how far, in capture pixels, a window of a pane is moved to lie inside.
func moved(capture, pane int, scale, centre float64) float64 {
	half := float64(pane) / scale / 2
	c := centre * float64(capture)
	if 2*half >= float64(capture) {
		return 0
	}
	return min(max(c, half), float64(capture)-half) - c
}

// Starts judges the starts of a scene against an alignment that may be relied on:
// now is the offset between two captures as written, found the one that the
// alignment proposes, and frame the length of a captured frame.
func Starts(now, found, frame time.Duration, confidence float64) []Finding {
	off := found - now
	if 2*max(off, -off) <= frame {
		return nil
	}
	return []Finding{{Severity: Misleads,
		What: "its start seems to show another moment than the first capture's",
		Evidence: fmt.Sprintf("the alignment puts it %+.3f s (%+.1f frames) from where it is "+
			"written, with a confidence of %.2f", off.Seconds(), float64(off)/float64(frame), confidence),
		Remedy: "see fairframe align FILE --scene ID, and its --write"}}
}

// mostEmpty is the share of the picture that may be empty without a word.
const mostEmpty = 0.05

// Empty judges how much of the picture shows nothing, since captures do not fill their
// panes.
func Empty(panes []graph.Pane, size image.Point) []Finding {
	empty := 0.0
	for _, p := range panes {
		if p.Input < 0 || p.Glide != nil {
			continue
		}
		pane := p.Shot.Pane
		empty += float64(pane.X*pane.Y - p.Shot.Keep.Dx()*p.Shot.Keep.Dy())
	}
	if empty /= float64(size.X * size.Y); empty <= mostEmpty {
		return nil
	}
	return []Finding{{Severity: Note, What: "part of the picture is empty",
		Evidence: fmt.Sprintf("captures leave %.0f %% of it black", 100*empty),
		Remedy:   "set view: rows or columns, another size, or a window instead of whole captures"}}
}
