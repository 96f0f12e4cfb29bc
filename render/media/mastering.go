package media

import (
	"fmt"
	"math"
	"strings"
)

// Mastering says on what display a picture was made (SMPTE ST 2086), in the units in
// which HEVC carries it: chromaticities in 1/50000, luminance in 1/10000 cd/m².
type Mastering struct {
	Red, Green, Blue, White [2]int // x and y
	Max, Min                int    // luminance
}

// ContentLight says how bright a picture is at its brightest (CTA-861.3), in cd/m².
type ContentLight struct {
	Max     int // MaxCLL, of any pixel
	Average int // MaxFALL, of any frame
}

// probedSide is what ffprobe says beside a stream or a picture of it.
type probedSide struct {
	Type     string  `json:"side_data_type"`
	Rotation float64 `json:"rotation"`

	RedX   string `json:"red_x"`
	RedY   string `json:"red_y"`
	GreenX string `json:"green_x"`
	GreenY string `json:"green_y"`
	BlueX  string `json:"blue_x"`
	BlueY  string `json:"blue_y"`
	WhiteX string `json:"white_point_x"`
	WhiteY string `json:"white_point_y"`
	Min    string `json:"min_luminance"`
	Max    string `json:"max_luminance"`

	Content int `json:"max_content"`
	Average int `json:"max_average"`
}

// state takes over what is said of the capture's light. What is said by halves is
// left aside: no encoder could pass it on.
func (c *Capture) state(list []probedSide) {
	for _, d := range list {
		switch d.Type {
		case "Mastering display metadata":
			if m, ok := d.mastering(); ok && c.Mastering == nil {
				c.Mastering = &m
			}
		case "Content light level metadata":
			if l := (ContentLight{d.Content, d.Average}); l.Max > 0 && c.Light == nil {
				c.Light = &l
			}
		}
	}
}

// mastering reads the record; ok says that all of it is there.
func (d probedSide) mastering() (m Mastering, ok bool) {
	ok = true
	read := func(s string, unit float64, most int) int {
		f, err := fraction(s) // more than 0
		v := math.Round(f * unit)
		if err != nil || v < 1 || v > float64(most) {
			ok = false
			return 0
		}
		return int(v)
	}
	const chromaticity, luminance = 50000, 10000
	for _, one := range []struct {
		to   *[2]int
		x, y string
	}{{&m.Red, d.RedX, d.RedY}, {&m.Green, d.GreenX, d.GreenY}, {&m.Blue, d.BlueX, d.BlueY}, {&m.White, d.WhiteX, d.WhiteY}} {
		*one.to = [2]int{read(one.x, chromaticity, chromaticity), read(one.y, chromaticity, chromaticity)}
	}
	const brightest = 10000 * luminance // of PQ
	m.Max = read(d.Max, luminance, brightest)
	all := ok
	m.Min = read(d.Min, luminance, brightest) // 0 is a black display
	return m, all && m.Min < m.Max
}

// stated returns what the clip says of its light: nothing that no capture says.
//
//   - The mastering display is that of the captures that keep their transfer; where
//     these differ, the one with the highest peak, which no capture goes beyond.
//   - MaxCLL and MaxFALL are the highest of these captures, if all of them state them
//     and no other HDR capture is shown; what is drawn, and SDR, has up to
//     referenceWhite.
func (c *Clip) stated() (m *Mastering, light *ContentLight, warnings []string) {
	to := c.Coding().Colour
	if !to.HDR() {
		return nil, nil, nil
	}
	var keep, silent, differ []string
	said := false
	highest := ""
	light = &ContentLight{}
	for i, l := range c.Inputs {
		capture := l.Capture
		if !c.decoded(i) || !capture.Colour.HDR() {
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
	case light.Max < referenceWhite:
		light.Max = referenceWhite
	}
	return m, light, warnings
}

// params are libx265's parameters for what is stated.
func params(m *Mastering, l *ContentLight) string {
	var list []string
	if m != nil {
		list = append(list, fmt.Sprintf("master-display=G(%d,%d)B(%d,%d)R(%d,%d)WP(%d,%d)L(%d,%d)",
			m.Green[0], m.Green[1], m.Blue[0], m.Blue[1], m.Red[0], m.Red[1], m.White[0], m.White[1], m.Max, m.Min))
	}
	if l != nil {
		list = append(list, fmt.Sprintf("max-cll=%d,%d", l.Max, l.Average))
	}
	return strings.Join(list, ":")
}
