package media

import (
	"math"
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
