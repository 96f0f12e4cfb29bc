package main

import (
	"fmt"
	"math"
	"strings"

	"fairframe/render/figures"
)

// soundFigures are the numbers of sound, a row for each octave band.
func soundFigures() []figure {
	list := []figure{
		soundFigure("loudness",
			"integrated over the scene, of the channels as recorded, mono as it is\n"+
				"played, from both loudspeakers (ITU-R BS.1770, EBU R 128; measured with\nffmpeg's ebur128)",
			func(s *figures.Sound) string {
				return ifAny(s.Measured(), level(s.Loudness.Integrated, "LUFS"))
			},
			func(d *figures.SoundDifference) string { return levelChange(d.Integrated, "LU") }),
		soundFigure("loudness range",
			"spread of the loudness over windows of 3 s, from its 10th to its 95th\n"+
				"percentile (EBU Tech 3342, made for a minute and more)",
			func(s *figures.Sound) string {
				return ifAny(s.Ranged(), fmt.Sprintf("%.1f LU", s.Loudness.Range))
			},
			func(d *figures.SoundDifference) string { return levelChange(d.Range, "LU") }),
		soundFigure("true peak", "the greatest peak between samples, of any channel (ITU-R BS.1770, Annex 2)",
			func(s *figures.Sound) string { return level(s.Loudness.TruePeak, "dBTP") },
			func(d *figures.SoundDifference) string { return levelChange(d.TruePeak, "dB") }),
	}
	for i, b := range figures.Bands() {
		meaning := ""
		switch i {
		case 0:
			meaning = "mean power in the octaves of IEC 61260-1, folded to stereo, of both sides\n" +
				"over the whole scene; 0 dB is a sine at full scale. Bands are cut out of\n" +
				"power spectra (bins of 1.5 Hz), not by the standard's filters. The\n" +
				"difference is shown with what chance alone gives; see below"
		case 1:
			meaning = "and so on"
		}
		list = append(list, soundFigure(octaveLabel(b), meaning,
			func(s *figures.Sound) string { return level(s.Levels[i], "dB") },
			func(d *figures.SoundDifference) string {
				if math.IsNaN(d.Levels[i]) {
					return none
				}
				return levelChange(d.Levels[i], "dB") + fmt.Sprintf(" (chance ±%.1f)", d.Chance[i])
			}))
	}
	return list
}

// soundFigure is a figure of sound. The first of them says where there is none.
func soundFigure(label, meaning string, value func(*figures.Sound) string,
	change func(*figures.SoundDifference) string) figure {
	return figure{label: label, meaning: meaning,
		value: func(c *figures.Capture) string {
			switch {
			case c.Sound != nil:
				return value(c.Sound)
			case label == "loudness":
				return "no sound"
			}
			return none
		},
		change: func(c, _ *figures.Capture) string {
			if c.SoundDifference == nil {
				return ""
			}
			return change(c.SoundDifference)
		}}
}

func octaveLabel(b figures.Band) string { return "octave at " + trimmed(b.Nominal) + " Hz" }

// level writes a level, with a true minus (U+2212).
func level(v float64, unit string) string {
	if math.IsInf(v, -1) {
		return "silence"
	}
	return strings.Replace(fmt.Sprintf("%.1f %s", v, unit), "-", "−", 1)
}

func levelChange(v float64, unit string) string {
	if math.IsNaN(v) {
		return none
	}
	return signed(fmt.Sprintf("%.1f %s", v, unit))
}

func rangeOf(s *figures.Sound) float64 {
	if !s.Ranged() {
		return math.NaN()
	}
	return s.Loudness.Range
}

// hundredth keeps two decimals of a level, which is more than is heard.
func hundredth(v float64) float64 { return math.Round(v*100) / 100 }

func number(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

type soundJSON struct {
	Channels int       `json:"channels" doc:"of the first sound stream"`
	Layout   string    `json:"layout" doc:"what they are, in ffmpeg's words"`
	Rate     int       `json:"rate_hz" doc:"samples a second, as recorded"`
	Heard    float64   `json:"heard_s" doc:"how much of the scene has sound"`
	Loudness *float64  `json:"integrated_lufs" doc:"loudness; null: too quiet or too short"`
	Range    *float64  `json:"range_lu" doc:"loudness range; null in 3 s and less"`
	TruePeak *float64  `json:"true_peak_dbtp" doc:"null: digital silence"`
	Octaves  []octJSON `json:"octaves" doc:"from 31.5 Hz to 16 kHz"`
}

type octJSON struct {
	Band  float64  `json:"band_hz" doc:"nominal midband frequency, IEC 61260-1"`
	Level *float64 `json:"level_db" doc:"0: a sine at full scale; null: silence"`
}

type soundDifferenceJSON struct {
	Against  string       `json:"against" doc:"key of the first capture"`
	Loudness *float64     `json:"integrated_lu" doc:"this capture's minus the other's, like all here"`
	Range    *float64     `json:"range_lu" doc:"loudness range"`
	TruePeak *float64     `json:"true_peak_db" doc:"true peak"`
	Octaves  []octDifJSON `json:"octaves" doc:"from 31.5 Hz to 16 kHz"`
}

type octDifJSON struct {
	Band   float64  `json:"band_hz" doc:"nominal midband frequency"`
	Change *float64 `json:"change_db" doc:"null: faint in both, see the help"`
	Chance *float64 `json:"chance_db" doc:"difference of two takes of one noise, 19 of 20 cases"`
}

// soundDocument is a capture's sound, and its difference to the first capture's.
func soundDocument(c *figures.Capture, first string) (*soundJSON, *soundDifferenceJSON) {
	maybe := func(v float64) *float64 { return known(number(v), v) }
	if c.Sound == nil {
		return nil, nil
	}
	s := c.Sound
	out := &soundJSON{Channels: s.Track.Channels, Layout: s.Track.Layout, Rate: s.Track.Rate,
		Heard:    rounded(s.Heard.Seconds()),
		Loudness: maybe(s.Loudness.Integrated), Range: maybe(rangeOf(s)),
		TruePeak: maybe(s.Loudness.TruePeak), Octaves: []octJSON{}}
	bands := figures.Bands()
	for i, b := range bands {
		out.Octaves = append(out.Octaves, octJSON{b.Nominal, maybe(hundredth(s.Levels[i]))})
	}
	d := c.SoundDifference
	if d == nil {
		return out, nil
	}
	dif := &soundDifferenceJSON{Against: first, Loudness: maybe(d.Integrated), Range: maybe(d.Range),
		TruePeak: maybe(d.TruePeak), Octaves: []octDifJSON{}}
	for i, b := range bands {
		dif.Octaves = append(dif.Octaves,
			octDifJSON{b.Nominal, maybe(hundredth(d.Levels[i])), maybe(hundredth(d.Chance[i]))})
	}
	return out, dif
}
