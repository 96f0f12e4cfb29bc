package scene

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"fairframe/fonts"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/record"
)

// Take is a capture as one scene uses it.
type Take struct {
	*comparison.Capture
	Probed media.Capture
	Start  time.Duration
	Style  int           // colour and dash, see deck.StyleOf
	Trace  *pacing.Trace // nil: the scene shows no pacing
}

// Footage is all that a scene's clip is made from. It is read once, and not changed.
type Footage struct {
	File     *comparison.File
	Scene    *comparison.Scene
	Takes    []Take // in the order shown
	Delivery graph.Delivery
	Fonts    *fonts.Set
	// Assumed says that a capture is still to be measured, so that its trace is one frame
	// a refresh.
	Assumed bool
	// Warnings are about the pacing that was read.
	Warnings []finding.Finding

	damage []media.Damaged // that the scene tolerates
}

// Gather reads what a scene shows. How a capture that is not measured yet gets its
// pacing is up to the caller.
func Gather(ctx context.Context, p *Project, s *comparison.Scene, how Unmeasured) (*Footage, error) {
	f := &Footage{File: p.File, Scene: s}
	var err error
	if f.Takes, err = Probe(ctx, p, s); err != nil {
		return nil, err
	}
	if f.Delivery, err = Delivery(p.File); err != nil {
		return nil, err
	}
	if f.Fonts, err = Fonts(p.File); err != nil {
		return nil, err
	}
	if s.Deck.Place == comparison.DeckNone && s.Summary == 0 {
		return f, nil
	}
	for i := range f.Takes {
		t := &f.Takes[i]
		source, err := sourceOf(ctx, p, s, *t, how)
		if err != nil {
			return nil, err
		}
		if _, assumed := source.(steady); assumed {
			f.Assumed = true
		}
		var warnings []finding.Finding
		if t.Trace, warnings, err = read(ctx, source, *t, s); err != nil {
			return nil, err
		}
		f.Warnings = append(f.Warnings, warnings...)
	}
	return f, nil
}

// WithDamage is the footage with damage that its scene tolerates.
func (f *Footage) WithDamage(found []media.Damaged) *Footage {
	damaged := *f
	damaged.damage = found
	return &damaged
}

// WithDelivery is the footage for another delivery.
func (f *Footage) WithDelivery(d graph.Delivery) *Footage {
	other := *f
	other.Delivery = d
	return &other
}

// Fonts are those of a comparison file.
func Fonts(f *comparison.File) (*fonts.Set, error) {
	set, err := fonts.New()
	if err != nil {
		return nil, err
	}
	if path := f.Fonts.Text; path != "" {
		if set, err = set.WithFile(path); err != nil {
			return nil, err
		}
	}
	if path := f.Fonts.Bold; path != "" {
		return set.WithFile(path, fonts.Bold)
	}
	return set, nil
}

// Probe probes the scene's captures, all at once.
func Probe(ctx context.Context, p *Project, s *comparison.Scene) ([]Take, error) {
	list := make([]Take, len(s.Captures))
	errs := make([]error, len(s.Captures))
	var wg sync.WaitGroup
	for i, key := range s.Captures {
		place := slices.IndexFunc(p.File.Captures, func(c comparison.Capture) bool { return c.Key == key })
		if place < 0 {
			return nil, fmt.Errorf("scene %s: no capture %q", s.ID, key)
		}
		c := &p.File.Captures[place]
		list[i].Capture = c
		list[i].Style = deck.StyleOf(place, len(p.File.Captures))
		wg.Go(func() {
			if list[i].Probed, errs[i] = p.Capture(ctx, c.Video); errs[i] != nil {
				errs[i] = fmt.Errorf("capture %s: %w", key, errs[i])
				return
			}
			if _, byFrame := s.Start[key].Frame(); byFrame && !list[i].Probed.Counted() {
				// Pictures are counted, however many the recorder dropped before.
				list[i].Probed, errs[i] = p.counted.Get(ctx, c.Video,
					func() (media.Capture, error) { return p.Tools.Reread(ctx, c.Video) })
				if errs[i] != nil {
					return
				}
			}
			list[i].Start, errs[i] = startIn(list[i].Probed, s.Start[key])
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}

// startIn returns when a time comes in a capture, whose frames count by their stamps.
func startIn(c media.Capture, t comparison.Time) (time.Duration, error) {
	if n, ok := t.Frame(); ok && c.Variable() {
		if n >= c.Frames {
			return 0, &finding.Error{Msg: fmt.Sprintf("%s: the capture has no frame %d; its last one is f%d",
				filepath.Base(c.Path), n, c.Frames-1),
				Hint: "frames are counted from 0 in the order of their stamps"}
		}
		return c.TimeOf(n), nil
	}
	return t.At(c.Rate)
}

// Doubt is how much of the scene rests on doubtful frames of the capture.
func (t Take) Doubt(s *comparison.Scene) pacing.Doubt {
	return t.Trace.Doubt(t.Start, t.Start+s.Length)
}

// Warnings are about the capture itself, whatever the scene shows of it.
func (t Take) Warnings(s *comparison.Scene) []finding.Finding {
	var w warnings
	w.add(t.Probed.Warnings...)
	if st := t.Probed.Stamping(); st != nil {
		w.plain(fmt.Sprintf("capture %s is of variable rate and read by its stamps: %v", t.Key, st))
	}
	if t.Trace == nil {
		return w
	}
	// A little of it the clip marks, and check, figures and the record tell of it.
	if d := t.Doubt(s); d.Uncertain() {
		w.plain(fmt.Sprintf("capture %s: pacing uncertain: %s of the scene rests on doubtful frames",
			t.Key, d.Percent()))
	}
	return w
}

// CaptureWarnings are about the captures themselves, whatever the scene shows of them.
func (f *Footage) CaptureWarnings() []finding.Finding {
	var list []finding.Finding
	for _, t := range f.Takes {
		list = append(list, t.Warnings(f.Scene)...)
	}
	return list
}

// Doubt is what the record says of the pacing.
func (f *Footage) Doubt() (list []record.Doubt) {
	for _, t := range f.Takes {
		if t.Trace == nil {
			continue
		}
		if d := t.Doubt(f.Scene); d.Time > 0 {
			list = append(list, record.Doubt{Capture: t.Key, Share: math.Round(d.Part()*1e4) / 1e4,
				Uncertain: d.Uncertain()})
		}
	}
	return list
}

// warnings gather what the user should know.
type warnings []finding.Finding

func (w *warnings) add(list ...finding.Finding) { *w = append(*w, list...) }

// plain adds warnings that are told in the same words wherever they stand.
func (w *warnings) plain(words ...string) {
	for _, one := range words {
		w.add(finding.Plain(one))
	}
}

// cut adds what a drawing shortened or left out to fit.
func (w *warnings) cut(words ...string) {
	for _, one := range words {
		w.add(finding.Finding{Severity: finding.Misleads, What: "text does not fit", Evidence: one,
			Remedy: "shorten it: what is cut off is not read", Words: one})
	}
}
