package scene

import (
	"fmt"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// Heard are the indices of the captures that a scene takes its sound from, whether or
// not they have any.
func Heard(s *comparison.Scene) []int {
	var list []int
	for i, key := range s.Captures {
		switch {
		case s.Audio == comparison.AudioMix, s.Audio == comparison.AudioEars && i < 2, s.Audio == key:
			list = append(list, i)
		}
	}
	return list
}

// soundOf is the sound of the clip as the scene wants it, with warnings of what is not
// in it. Captures without sound are silent.
func soundOf(f *Footage, passing pacing.TimeMap, w *warnings) (sound graph.Sound) {
	s, heard := f.Scene, Heard(f.Scene)
	var with []int
	for _, i := range heard {
		if f.Takes[i].Probed.Audio {
			with = append(with, i)
		}
	}
	for side, i := range heard {
		if f.Takes[i].Probed.Audio {
			w.add(OfTrack(f.Takes[i])...)
		} else {
			w.add(noSound(f, side, i, len(with) > 0))
		}
	}
	if len(with) == 0 {
		return sound
	}
	if speed := deck.SpeedText(passing.Speed()); speed != "" {
		w.plain(fmt.Sprintf("the clip is silent: at %s, the sound would be made up, not recorded "+
			"(audio: none says so)", speed))
		return sound
	}
	sound = graph.Sound{Kind: graph.Single, Inputs: with, Loudness: s.Loudness}
	switch s.Audio {
	case comparison.AudioMix:
		sound.Kind = graph.Mix
	case comparison.AudioEars:
		sound.Kind, sound.Inputs = graph.Ears, heard
		for side, i := range heard {
			if !f.Takes[i].Probed.Audio {
				sound.Inputs[side] = -1
			}
		}
	}
	return sound
}

// noSound warns of a capture without sound; others says that another one is heard.
func noSound(f *Footage, side, i int, others bool) finding.Finding {
	key := f.Takes[i].Key
	one := finding.Finding{Severity: finding.Misleads, Capture: key, What: "the capture has no sound",
		Evidence: "the scene's audio: uses it", Remedy: "choose another capture for audio:, or none"}
	var able []string
	for _, t := range f.Takes {
		if t.Probed.Audio {
			able = append(able, t.Key)
		}
	}
	what := "the mix has only the others"
	switch {
	case !others && len(able) > 0:
		what = fmt.Sprintf("the clip is silent, though %s could be heard", strings.Join(able, " or "))
	case !others:
		what = "the clip is silent"
	case f.Scene.Audio == comparison.AudioEars:
		what = fmt.Sprintf("the %s ear is silent", []string{"left", "right"}[side])
	}
	one.Words = fmt.Sprintf("capture %s has no sound; %s", key, what)
	return one
}

// OfTrack says what of a capture's sound is not heard as it is.
func OfTrack(t Take) (list []finding.Finding) {
	add := func(what string) {
		list = append(list, finding.Finding{Severity: finding.Note, Capture: t.Key,
			What: "not all of the sound is heard unchanged", Evidence: "it " + what,
			Remedy: "record stereo, or put the stream you want first",
			Words:  fmt.Sprintf("capture %s %s", t.Key, what)})
	}
	track := t.Probed.Track
	if track.Streams > 1 {
		add(fmt.Sprintf("has %d sound streams; the first is used", track.Streams))
	}
	switch {
	case track.Channels > 2 && !track.Known():
		add(fmt.Sprintf("has sound of %d channels in no known order; the first two are used as left "+
			"and right", track.Channels))
	case track.Folded():
		add(fmt.Sprintf("has %s sound, which is folded to stereo (ITU-R BS.775: centre and surrounds at "+
			"-3 dB, no low-frequency channel)", track.Layout))
	}
	return list
}
