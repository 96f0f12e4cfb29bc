package check

import (
	"fmt"
	"image"
	"math"
	"time"
)

// View is what a pane shows of a capture.
type View struct {
	Capture, Pane    image.Point
	Scale            float64 // output pixels for each capture pixel
	Kernel           string
	Whole            bool
	CenterX, CenterY float64 // as asked for, in fractions of the capture
}

// Views judges a window: one that would reach beyond the capture and is moved
// inside, and one that enlarges.
func Views(v View) []Finding {
	var list []Finding
	if !v.Whole {
		dx, dy := moved(v.Capture.X, v.Pane.X, v.Scale, v.CenterX), moved(v.Capture.Y, v.Pane.Y, v.Scale, v.CenterY)
		if math.Abs(dx) >= 2 || math.Abs(dy) >= 2 {
			list = append(list, Finding{Severity: Note, What: "the window reaches out of the capture and is moved inside",
				Evidence: fmt.Sprintf("centre [%.3f, %.3f], moved by %+.0f, %+.0f pixels of the capture", v.CenterX, v.CenterY, dx, dy),
				Remedy:   "if the captures' windows must show the same place, move the centre inwards or magnify more"})
		}
		if w, h := float64(v.Capture.X)*v.Scale, float64(v.Capture.Y)*v.Scale; w < float64(v.Pane.X)-2 || h < float64(v.Pane.Y)-2 {
			list = append(list, Finding{Severity: Note, What: "the window is larger than the capture and leaves bars",
				Evidence: fmt.Sprintf("the scaled capture is %.0fx%.0f pixels, its pane %dx%d", w, h, v.Pane.X, v.Pane.Y),
				Remedy:   "magnify more, or leave it so"})
		}
	}
	if v.Scale > 1.0001 {
		list = append(list, Finding{Severity: Note, What: "the picture is enlarged",
			Evidence: fmt.Sprintf("%.3gx %s; the name tab says so", v.Scale, v.Kernel),
			Remedy:   "an enlarged picture is softer, or blockier, than the machine's own; compare sharpness at one to one"})
	}
	return list
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
	return []Finding{{Severity: Misleads, What: "its start seems to show another moment than the first capture's",
		Evidence: fmt.Sprintf("the alignment puts it %+.3f s (%+.1f frames) from where it is written, with a confidence of %.2f", off.Seconds(), float64(off)/float64(frame), confidence),
		Remedy:   "see fairframe align FILE --scene ID, and its --write"}}
}
