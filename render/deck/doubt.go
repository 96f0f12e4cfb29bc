package deck

import (
	"image"
	"strings"
	"time"

	"golang.org/x/image/math/fixed"

	"fairframe/render/pacing"
)

// uncertainWord is what a clip says of a capture of whose part in the scene more
// than pacing.Uncertain rests on doubtful frames.
const uncertainWord = "pacing uncertain"

// doubtOf is how much of capture i's part in the scene rests on doubtful frames.
func (d *Deck) doubtOf(i int) pacing.Doubt {
	c := d.Captures[i]
	if c.Trace == nil {
		return pacing.Doubt{}
	}
	return c.Trace.Doubt(c.Start, d.end(i))
}

// noteDoubt returns a capture's note, which its name tab never drops, with what is
// to be said of its pacing: at length where there is room, and in short.
func (d *Deck) noteDoubt(i int) (long, short string) {
	note := d.Captures[i].Note
	doubt := d.doubtOf(i)
	if d.Screen.Deck.Empty() || !doubt.Uncertain() {
		return note, note
	}
	if note != "" {
		note += string(dotted)
	}
	note += uncertainWord
	return note + ": " + doubt.Percent() + " doubtful", note
}

// thinText explains a thin line.
const thinText = "; thin: doubtful"

// lineMeans says what the frame-rate line is, at length where there is room and in
// short.
func (d *Deck) lineMeans() []string {
	short := d.meanText(d.RateWindow)
	long := short
	for i := range d.Captures {
		doubt := d.doubtOf(i)
		switch {
		case doubt.Uncertain() && len(d.Screen.Tabs) == 0: // which would say it
			return []string{short + "; " + uncertainWord, uncertainWord}
		case doubt.Time > 0:
			long = short + thinText
		}
	}
	return []string{long, short}
}

// doubtRemarks say below a closing page's figures what they rest on.
func doubtRemarks(captures []PageCapture) (out []string) {
	var doubt, least []string
	for _, c := range captures {
		if d := c.Figures.Doubt; d.Uncertain() {
			doubt = append(doubt, d.Percent()+" of "+c.Name)
		}
		if c.Figures.Ceiling > 0 {
			least = append(least, c.Name)
		}
	}
	if len(doubt) > 0 {
		out = append(out, "Pacing uncertain: "+enumerated(doubt)+" rests on doubtful frames.")
	}
	if len(least) > 0 {
		out = append(out, "≥ is at least: every captured picture of "+enumerated(least)+
			" was new for a time, so the game may have been faster.")
	}
	return out
}

// enumerated is a list in words: a, b and c.
func enumerated(list []string) string {
	last := len(list) - 1
	if last < 1 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:last], ", ") + " and " + list[last]
}

// state is what a readout says of its frame rate.
type state int

const (
	plainRate state = iota
	doubtfulRate
	leastRate // the capture can show no more: its own rate is a ceiling
)

// stateWords are the words of a state, and the sign that stands where they have no
// room.
var stateWords = [...][2]string{doubtfulRate: {"doubtful", "?"}, leastRate: {"at least", "≥"}}

// stateAt tells what is to be said of capture i's frame rate at output frame k: the
// mean over its window.
func (d *Deck) stateAt(i int, scene time.Duration) state {
	c := d.Captures[i]
	if c.Trace == nil {
		return plainRate
	}
	at := c.Start + scene
	switch line := d.lines[i]; {
	case line.Doubt(at).Uncertain():
		return doubtfulRate
	case line.Ceiling(at):
		return leastRate
	}
	return plainRate
}

// stateMarks are the words of the states over the unit of a frame rate whose number
// ends at x: level with the number's head, or as high as clears the frame time that
// stands beside it.
func (d *Deck) stateMarks(i int, x, base fixed.Int26_6, stacked bool) (marks [leastRate + 1]*stencil) {
	r := d.Screen.Readouts[i]
	small := d.faces.small
	most, clear := fixed.I(r.Time.Max.X), d.faces.time.CapHeight()+fixed.Int26_6(0.15*d.em*64)
	if stacked {
		most, clear = fixed.I(r.Rate.Max.X), small.CapHeight()+fixed.Int26_6(0.4*d.em*64)
	}
	line := min(base-d.faces.rate.CapHeight()+small.CapHeight(), base-clear)
	for s := doubtfulRate; s <= leastRate; s++ {
		face, text := small, stateWords[s][0]
		if x+small.Measure(text) > most {
			face, text = d.faces.time, stateWords[s][1]
		}
		marks[s] = newStencil(face.Mask(fixed.Point26_6{X: x, Y: fixed.I(line.Round())}, text))
	}
	return marks
}

// drawState draws what is to be said of capture i's frame rate.
func (d *Deck) drawState(p *planes, i, k int) {
	scene := d.sceneTime(k)
	if _, ok := d.rateAt(i, scene); !ok {
		return
	}
	if s := d.stateAt(i, scene); s != plainRate {
		p.stamp(d.readouts[i].states[s], 0, encode(soft), image.Rect(0, 0, p.w, p.h))
	}
}

// thinLine is how much of its width the frame-rate line keeps where it is doubtful.
const thinLine = 0.4

// thin replaces the columns of a capture's line where its rate is doubtful by those
// of a thin one, whose dashes so stay in step.
func thin(line, other *image.Alpha, doubtful func(x int) bool) {
	r := line.Rect
	for x := r.Min.X; x < r.Max.X; x++ {
		if !doubtful(x) {
			continue
		}
		for y := r.Min.Y; y < r.Max.Y; y++ {
			line.SetAlpha(x, y, other.AlphaAt(x, y))
		}
	}
}
