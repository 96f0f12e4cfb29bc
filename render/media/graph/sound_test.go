package graph

import (
	"testing"

	"fairframe/render/media"
)

// TestSoundErrors: descriptions that make no sense are errors and no clips.
func TestSoundErrors(t *testing.T) {
	legs := []Input{{Name: "alder", Capture: media.Capture{Audio: true}}, {Name: "birch"}}
	for _, s := range []Sound{
		{Kind: Single}, {Kind: Single, Inputs: []int{0, 0}}, {Kind: Single, Inputs: []int{2}}, {Kind: Single, Inputs: []int{-1}}, {Kind: Single, Inputs: []int{1}},
		{Kind: Ears, Inputs: []int{0}}, {Kind: Ears, Inputs: []int{-1, -1}}, {Kind: Mix}, {Kind: Mix, Inputs: []int{0, -1}}, {Kind: Silent, Inputs: []int{0}},
	} {
		if s.check(legs) == nil {
			t.Errorf("%+v is no error", s)
		}
	}
	for _, s := range []Sound{{}, {Kind: Single, Inputs: []int{0}}, {Kind: Ears, Inputs: []int{-1, 0}}} {
		if err := s.check(legs); err != nil {
			t.Error(err)
		}
	}
}
