package scene

import (
	"fmt"
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
)

// Bare is the clip without its deck, tabs and labels, of one capture alone unless pane is
// "", with warnings of what the picture then does not say itself.
func (p *Planned) Bare(pane string) (*graph.Clip, []finding.Finding, error) {
	c := *p.Clip
	c.Layers, c.Opening, c.Closing, c.Sound = nil, nil, nil, graph.Sound{}
	if p.Scene.View != comparison.ViewWipe || pane != "" {
		c.Dividers = nil
	}
	if pane != "" {
		if c.Panes = p.alone(pane); c.Panes == nil {
			return nil, nil, &finding.Error{Msg: fmt.Sprintf("scene %s does not show a capture %q", p.Scene.ID,
				pane), Hint: fmt.Sprintf("it shows: %s", strings.Join(p.keys(), ", "))}
		}
		c.Matte = nil
	}
	for _, m := range p.Marks {
		at := p.Clip.Panes[m.Pane]
		for _, layer := range m.Layers {
			if pane != "" {
				window := p.Windows[at.Input]
				if p.Clip.Inputs[at.Input].Name != pane || !at.Area.In(window.Area) {
					continue
				}
				layer.Area = layer.Area.Sub(window.Area.Min)
			}
			c.Layers = append(c.Layers, layer)
		}
	}
	return &c, unnamed(&c), nil
}

// alone returns the window of one capture, moved to the picture's corner; nil
// when the scene shows none.
func (p *Planned) alone(key string) []graph.Pane {
	for _, w := range p.Windows {
		if w.Input >= 0 && p.Clip.Inputs[w.Input].Name == key {
			w.Area = w.Area.Sub(w.Area.Min)
			return []graph.Pane{w}
		}
	}
	return nil
}

// keys are those of the captures whose windows the scene shows.
func (p *Planned) keys() []string {
	var list []string
	for _, w := range p.Windows {
		if w.Input >= 0 {
			list = append(list, p.Clip.Inputs[w.Input].Name)
		}
	}
	return list
}

// unnamed says in warnings what a picture without tabs and labels does not say
// itself.
func unnamed(c *graph.Clip) []finding.Finding {
	var w []finding.Finding
	say := func(format string, args ...any) {
		if one := finding.Plain(fmt.Sprintf(format, args...)); !slices.Contains(w, one) {
			w = append(w, one)
		}
	}
	scale := func(p graph.Pane) {
		if note := PaneNote(p); note != "" {
			say("capture %s is shown %s, which the picture without its name tab does not say",
				c.Inputs[p.Input].Name, note)
		}
	}
	for _, p := range c.Panes {
		scale(p)
		if l := p.Subtrahend; l != nil {
			scale(LessPane(p))
			say("the difference of captures %s and %s is shown x%s, which the picture without its label "+
				"does not say", c.Inputs[p.Input].Name, c.Inputs[l.Input].Name, ShortDecimal(l.Gain.Rat()))
		}
	}
	if !c.Time.Plain() {
		say("the picture does not say that the scene is slowed, sped up or held")
	}
	return w
}
