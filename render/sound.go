package render

import (
	"fmt"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media/graph"
)

// hears are the indices of the captures that a scene lets be heard, whether or
// not they have sound.
func hears(s *comparison.Scene) []int {
	var list []int
	for i, key := range s.Captures {
		switch {
		case s.Audio == comparison.AudioMix, s.Audio == comparison.AudioEars && i < 2, s.Audio == key:
			list = append(list, i)
		}
	}
	return list
}

// addSound lets the clip be heard as the scene says, and warns of what that
// leaves out. Captures without sound are silence.
func (p *Plan) addSound(captures []sceneCapture) {
	s := p.Scene
	heard := hears(s)
	var with []int
	for _, i := range heard {
		if captures[i].probed.Audio {
			with = append(with, i)
		}
	}
	var others []string
	for _, c := range captures {
		if c.probed.Audio {
			others = append(others, c.Key)
		}
	}
	for side, i := range heard {
		c := captures[i]
		switch {
		case c.probed.Audio:
			p.warn(ofTrack(c)...)
		case len(with) == 0 && len(others) > 0:
			p.warn(fmt.Sprintf("capture %s has no sound; the clip is silent, though %s could be heard",
				c.Key, strings.Join(others, " or ")))
		case len(with) == 0:
			p.warn(fmt.Sprintf("capture %s has no sound; the clip is silent", c.Key))
		case s.Audio == comparison.AudioEars:
			p.warn(fmt.Sprintf("capture %s has no sound; the %s ear is silent",
				c.Key, []string{"left", "right"}[side]))
		default:
			p.warn(fmt.Sprintf("capture %s has no sound; the mix has only the others", c.Key))
		}
	}
	if len(with) == 0 {
		return
	}
	if speed := deck.SpeedText(p.Clip.Time.Speed()); speed != "" {
		p.warn(fmt.Sprintf("the clip is silent: at %s, the sound would be made up, not recorded "+
			"(audio: none says so)", speed))
		return
	}
	sound := graph.Sound{Kind: graph.Single, Inputs: with, Loudness: s.Loudness}
	switch s.Audio {
	case comparison.AudioMix:
		sound.Kind = graph.Mix
	case comparison.AudioEars:
		sound.Kind, sound.Inputs = graph.Ears, heard
		for side, i := range heard {
			if !captures[i].probed.Audio {
				sound.Inputs[side] = -1
			}
		}
	}
	p.Clip.Sound = sound
}

// ofTrack says what of a capture's sound is not heard as it is.
func ofTrack(c sceneCapture) []string {
	var list []string
	t := c.probed.Track
	if t.Streams > 1 {
		list = append(list, fmt.Sprintf("capture %s has %d sound streams; the first is used",
			c.Key, t.Streams))
	}
	switch {
	case t.Channels > 2 && !t.Known():
		list = append(list,
			fmt.Sprintf("capture %s has sound of %d channels in no known order; the first two are "+
				"used as left and right", c.Key, t.Channels))
	case t.Folded():
		list = append(list,
			fmt.Sprintf("capture %s has %s sound, which is folded to stereo (ITU-R BS.775: centre "+
				"and surrounds at -3 dB, no low-frequency channel)", c.Key, t.Layout))
	}
	return list
}
