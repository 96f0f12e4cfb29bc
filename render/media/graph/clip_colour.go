package graph

import (
	"fmt"
	"strings"

	"fairframe/render/finding"
	"fairframe/render/media"
)

// Coding is the clip's.
func (c *Clip) Coding() media.Coding {
	if !c.Delivery.HDR {
		return media.SDR()
	}
	return media.HDR(c.Transfer())
}

// Transfer is the one ordered, or else the one that all HDR captures of the clip
// have. PQ is that of a clip whose captures differ, because HLG has no code for
// light beyond its display's, or that has none.
func (c *Clip) Transfer() string {
	if t := c.Delivery.Transfer; t != "" {
		return t
	}
	found := ""
	for _, l := range c.Inputs {
		switch t := l.Capture.Colour; {
		case !t.HDR():
		case found == "":
			found = t.Transfer
		case found != t.Transfer:
			return media.PQ
		}
	}
	if found == "" {
		return media.PQ
	}
	return found
}

// Conversions returns a warning for each capture that is shown in other colours
// than it was recorded in, and one more where HDR stands beside SDR.
func (c *Clip) Conversions() (list []finding.Finding) {
	if c.Delivery.OverlayOnly {
		return nil
	}
	to := c.Coding().Colour
	var changed, kept []string
	high, low := 0, 0
	for i, l := range c.Inputs {
		if !c.Decodes(i) {
			continue
		}
		from := l.Capture.Colour
		if how := from.Conversion(to); how != "" {
			list = append(list, finding.Finding{Severity: finding.Misleads, Capture: l.Name,
				What: "its colours are converted for the clip", Evidence: "it " + how,
				Remedy: "record all captures alike where brightness or colours are compared, " +
					"or say so where the clip is shown",
				Words: fmt.Sprintf("capture %s %s", l.Name, how)})
		}
		if from.HDR() {
			high++
		} else {
			low++
		}
		if from.Light() == to.Light() {
			kept = append(kept, l.Name)
		} else {
			changed = append(changed, l.Name)
		}
	}
	if high > 0 && low > 0 {
		text := "HDR and SDR captures stand in one scene: converted: " + strings.Join(changed, ", ")
		if len(kept) > 0 {
			text += "; shown in the light that was recorded: " + strings.Join(kept, ", ")
		}
		list = append(list, finding.Plain(text+"; their brightness and colours cannot be compared"))
	}
	if to.HDR() && high == 0 && low > 0 {
		list = append(list, finding.Plain("no capture of the scene is HDR: the clip is HDR in name alone, "+
			"and delivery hevc shows as much"))
	}
	_, _, stated := c.StatedLight()
	for _, words := range stated {
		list = append(list, finding.Plain(words))
	}
	return list
}

// Pictured says how the clip's pictures differ from its stills, "" where they do not.
func (c *Clip) Pictured() string {
	to := c.Coding().Colour
	if !to.HDR() {
		return ""
	}
	return fmt.Sprintf("the picture is SDR, the clip is HDR (%s): it is tone-mapped as a whole, in proportion up to %.0f cd/m², compressed above, white from %d cd/m² on",
		to.Light(), media.KneeOfWhite*media.ReferenceWhite, media.PeakLight)
}

// Note is what the name tab says of an input's light, where it is not as it was
// recorded and that is seen; "" otherwise.
func (c *Clip) Note(leg int) string {
	from, into := c.Inputs[leg].Capture.Colour.Light(), c.Coding().Light()
	switch {
	case c.Delivery.OverlayOnly || (from == "SDR") == (into == "SDR"):
		return ""
	case into == "SDR":
		return "tone-mapped"
	}
	return "SDR"
}

// StatedLight returns what the clip says of its light: nothing that no capture says.
//
//   - The mastering display is that of the captures that keep their transfer; where
//     these differ, the one with the highest peak, which no capture goes beyond.
//   - MaxCLL and MaxFALL are the highest of these captures, if all of them state them
//     and no other HDR capture is shown; what is drawn, and SDR, has up to
//     referenceWhite.
func (c *Clip) StatedLight() (m *media.Mastering, light *media.ContentLight, warnings []string) {
	to := c.Coding().Colour
	if !to.HDR() {
		return nil, nil, nil
	}
	var keep, silent, differ []string
	said := false
	highest := ""
	light = &media.ContentLight{}
	for i, l := range c.Inputs {
		capture := l.Capture
		if !c.Decodes(i) || !capture.Colour.HDR() {
			continue
		}
		if capture.Colour.Light() != to.Light() {
			silent = append(silent, l.Name)
			continue
		}
		keep = append(keep, l.Name)
		if one := capture.Mastering; one != nil {
			if m != nil && *m != *one {
				differ = append(differ, l.Name)
			}
			if m == nil || one.Max > m.Max {
				m, highest = one, l.Name
			}
		}
		if capture.Light == nil {
			silent = append(silent, l.Name)
			continue
		}
		said = true
		light.Max, light.Average = max(light.Max, capture.Light.Max), max(light.Average, capture.Light.Average)
	}
	if len(differ) > 0 {
		warnings = append(warnings, fmt.Sprintf("the HDR captures were mastered on different displays; the clip names that of %s, which has the highest peak", highest))
	}
	switch {
	case !said || len(keep) == 0:
		light = nil
	case len(silent) > 0:
		light = nil
		warnings = append(warnings, fmt.Sprintf("the clip states no MaxCLL and MaxFALL, since those of %s are not known", strings.Join(silent, ", ")))
	case light.Max < media.ReferenceWhite:
		light.Max = media.ReferenceWhite
	}
	return m, light, warnings
}
