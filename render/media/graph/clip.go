package graph

import (
	"fmt"
	"image"
	"math/big"
	"slices"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// Clip is everything ffmpeg has to know of one clip. It is a description: the
// same Clip renders, previews and tells its arguments.
type Clip struct {
	Size     image.Point
	Rate     pacing.Rate
	Frames   int64          // output frames, more than 0
	Time     pacing.TimeMap // which instant of the scene each of them shows; zero: frame k that at k/rate
	Inputs   []Input        // the captures; sound and panes refer to them by index
	Panes    []Pane         // what is shown of them, in the order of painting
	Dividers []image.Rectangle
	Matte    *Matte  // which of the panes is seen where; nil: the later ones cover the earlier ones
	Layers   []Layer // what Go draws over them; may be empty
	Sound    Sound   // which inputs are heard
	Opening  *Page   // a still page before the first frame; nil: none
	Closing  *Page   // a still page after the last frame; nil: none
	Delivery Delivery
	Timecode string // label of the first frame, which the clip carries; "": none
	// Tolerated is damage of the inputs that is known, see Damages, and does not stop
	// the clip. Other damage does.
	Tolerated []media.Damaged
	Record    string // what the clip carries of its own making; "": nothing
}

// Page is a still picture that stands for a while, without sound.
type Page struct {
	Frames  int64
	Picture []byte // packed yuv420p of the output's size, BT.709, limited range
}

// frames is how long a page stands; one that is not there stands for no time.
func (p *Page) frames() int64 {
	if p == nil {
		return 0
	}
	return p.Frames
}

// picture is what a page shows; nil of one that is not there.
func (p *Page) picture() []byte {
	if p == nil {
		return nil
	}
	return p.Picture
}

// Total returns how many frames the clip has: the scene's and the pages'.
func (c *Clip) Total() int64 { return c.Opening.frames() + c.Frames + c.Closing.frames() }

// Lead returns how many frames of the clip come before the scene's first.
//
// Frames are numbered by the scene: output frame 0 is its first. Those of the
// opening page lie below zero, those of the closing page from Frames on.
func (c *Clip) Lead() int64 { return c.Opening.frames() }

// PageAt returns the page that output frame k belongs to; nil: none, it is the
// scene's.
func (c *Clip) PageAt(k int64) *Page {
	switch {
	case k < 0:
		return c.Opening
	case k >= c.Frames:
		return c.Closing
	}
	return nil
}

// Input is one capture's way into the clip: which of its frames are taken.
type Input struct {
	Name    string // for messages
	Capture media.Capture
	Start   time.Duration // capture time of output frame 0
}

// FrameMap is the input's FrameMap within the clip.
func (c *Clip) FrameMap(i int) (media.FrameMap, error) {
	l := c.Inputs[i]
	return l.Capture.FrameMap(c.Rate, l.Start, c.Frames, c.Time)
}

// Shown returns the first and the last captured frame that the clip shows of a
// input.
func (c *Clip) Shown(leg int) (first, last int64, err error) {
	p, err := c.FrameMap(leg)
	if err != nil {
		return 0, 0, err
	}
	one := c.Inputs[leg].Capture
	return one.NumberOf(p.First), one.NumberOf(p.Last()), nil
}

// Check compares the clip with what the captures say of themselves, before
// anything is decoded: a start before the capture, a capture that ends too soon.
func (c *Clip) Check() error {
	if c.Frames < 1 || len(c.Inputs) == 0 {
		return fmt.Errorf("media: a clip of %d captures and %s", len(c.Inputs), media.Frames(c.Frames))
	}
	if err := c.checkPanes(); err != nil {
		return err
	}
	for _, page := range []*Page{c.Opening, c.Closing} {
		if page != nil && (page.Frames < 1 || len(page.Picture) != c.Size.X*c.Size.Y*3/2) {
			return fmt.Errorf("media: a page of %s and %d bytes", media.Frames(page.Frames), len(page.Picture))
		}
	}
	if !c.Time.Plain() && c.Time.Frames() != c.Frames {
		return fmt.Errorf("media: %s, of which the scene has %d", media.Frames(c.Frames), c.Time.Frames())
	}
	if c.Sound.Heard() && c.Time.Speed().Cmp(big.NewRat(1, 1)) != 0 {
		return fmt.Errorf("media: sound at %s times its speed", c.Time.Speed().RatString())
	}
	if err := c.Sound.check(c.Inputs); err != nil {
		return err
	}
	for i, l := range c.Inputs {
		p, err := c.FrameMap(i)
		if err != nil {
			return err
		}
		if p.First < 0 {
			return &media.Error{Msg: fmt.Sprintf("media: capture %s cannot start at %v", l.Name, l.Start)}
		}
		// A container's own figure may be off by a frame or two; the exact
		// count follows when the capture is decoded.
		const grace = 2
		if have := l.Capture.Frames; have > 0 && p.Last() > l.Capture.Stamp(have)-1+l.Capture.StampsIn(grace) {
			return TooShort(l, p, have)
		}
	}
	return nil
}

// TooShort is the error of a capture that ends before the scene does.
func TooShort(l Input, p media.FrameMap, have int64) error {
	c := l.Capture
	last := fmt.Sprintf("to %d", c.NumberOf(p.Last()))
	if c.Variable() {
		last = "on" // its later pictures have no number
	}
	return &media.Error{
		Msg: fmt.Sprintf("media: capture %s is too short: the scene shows its frames %d %s (to %.2f s), and it has %s (%.2f s)",
			l.Name, c.NumberOf(p.First), last, c.Clock().TimeOf(p.Last()+c.StampsIn(1)).Seconds(), media.Frames(have), c.TimeOf(have).Seconds()),
		Hint: "start the scene earlier, shorten it, or record more",
	}
}

// OnlyFrame returns the clip that consists of output frame k alone.
func (c *Clip) OnlyFrame(k int64) (*Clip, error) {
	one := *c
	one.Frames = 1
	one.Time = pacing.TimeMap{}
	one.Sound = Sound{}
	one.Opening, one.Closing = nil, nil
	one.Inputs = append([]Input(nil), c.Inputs...)
	for i := range one.Inputs {
		p, err := c.FrameMap(i)
		if err != nil {
			return nil, err
		}
		one.Inputs[i].Start = one.Inputs[i].Capture.Clock().TimeOf(p.Shown(k))
	}
	one.Panes = nil
	for _, p := range c.Panes {
		if p.Turn.Shown(k) {
			p.Turn = nil
			p.moved(k)
			one.Panes = append(one.Panes, p)
		}
	}
	if c.Matte != nil {
		m := *c.Matte
		m.Draw = func(dst []byte, _ int) { c.Matte.Draw(dst, int(k)) }
		one.Matte = &m
	}
	one.Layers = nil
	if c.Coding().Bytes > 1 {
		one.Dividers = nil // they are among the layers
	}
	for _, p := range c.allLayers() {
		if moved, ok := p.at(k); ok {
			one.Layers = append(one.Layers, moved)
		}
	}
	return &one, nil
}

// Tolerates reports whether damage of that capture is known and may be shown.
func (c *Clip) Tolerates(capture string) bool {
	return slices.ContainsFunc(c.Tolerated, func(d media.Damaged) bool { return d.Capture == capture })
}

// ErrorRateArgs are global arguments that keep ffmpeg from giving up over damage that
// is known. Frames that it loses are counted all the same.
func (c *Clip) ErrorRateArgs() []string {
	if len(c.Tolerated) == 0 {
		return nil
	}
	return []string{"-max_error_rate", "1"}
}
