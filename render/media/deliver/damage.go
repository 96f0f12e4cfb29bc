package deliver

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// describeAudioError tells of damaged sound. Its decoder leaves out what it cannot read, and the rest
// keeps its place.
func describeAudioError(c *graph.Clip, words string) string {
	var heard []string
	for _, i := range c.Sound.Inputs {
		heard = append(heard, c.Inputs[i].Name)
	}
	which := "of capture " + heard[0]
	if len(heard) > 1 {
		which = "of one of the captures " + strings.Join(heard, ", ")
	}
	return fmt.Sprintf("the sound %s is damaged, in the scene or just before it: what its decoder cannot read is silent or made up; ffmpeg said first: %s", which, words)
}

// Damages decodes what a clip shows of its captures and returns the damage in it,
// at most one of each input, in their order. Input by input it costs a decode, and where
// there is damage a slow one more.
func Damages(ctx context.Context, t *media.Tools, c *graph.Clip) ([]media.Damaged, error) {
	errs := make([]error, len(c.Inputs))
	var wg sync.WaitGroup
	for i, l := range c.Inputs {
		if c.Decodes(i) {
			wg.Go(func() { errs[i] = damageOf(ctx, t, c, i, l) })
		}
	}
	wg.Wait()
	var list []media.Damaged
	for _, err := range errs {
		var d *media.Damaged
		switch {
		case errors.As(err, &d):
			list = append(list, *d)
		case err != nil:
			return nil, err
		}
	}
	return list, nil
}

// damageOf is Damages of one input.
func damageOf(ctx context.Context, t *media.Tools, c *graph.Clip, i int, l graph.Input) error {
	p, err := c.FrameMap(i)
	if err != nil {
		return err
	}
	at, err := t.Locate(ctx, l.Capture, p.First)
	if err != nil {
		return err
	}
	trouble, err := t.ComplaintFrom(ctx, l.Capture, at, []string{"-copyts", "-max_error_rate", "1"},
		[]string{"-vf", fmt.Sprintf("%s,trim=end_pts=%d", l.Capture.StampChain(), p.Last()+1), "-fps_mode", "passthrough"})
	if err != nil || trouble == "" {
		return err
	}
	return t.Inspect(ctx, l.Name, l.Capture, p, at)
}
