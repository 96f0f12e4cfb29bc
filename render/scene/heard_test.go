package scene

import (
	"testing"

	"fairframe/render/media/graph"
)

// The tabs say whose sound is heard, where there is a choice.
func TestHeardAs(t *testing.T) {
	for _, c := range []struct {
		sound    graph.Sound
		captures int
		want     [2]string
	}{
		{graph.Sound{}, 2, [2]string{"", ""}},
		{graph.Sound{Kind: graph.Single, Inputs: []int{1}}, 2, [2]string{"", "sound"}},
		{graph.Sound{Kind: graph.Single, Inputs: []int{0}}, 1, [2]string{"", ""}},
		{graph.Sound{Kind: graph.Mix, Inputs: []int{0, 1}}, 2, [2]string{"sound, mixed", "sound, mixed"}},
		{graph.Sound{Kind: graph.Ears, Inputs: []int{1, 0}}, 2, [2]string{"sound, right", "sound, left"}},
		{graph.Sound{Kind: graph.Ears, Inputs: []int{-1, 1}}, 3, [2]string{"", "sound, right"}},
	} {
		clip := &graph.Clip{Sound: c.sound, Inputs: make([]graph.Input, c.captures)}
		if got := [2]string{heardAs(clip, 0), heardAs(clip, 1)}; got != c.want {
			t.Errorf("%+v: %q, want %q", c.sound, got, c.want)
		}
	}
}
