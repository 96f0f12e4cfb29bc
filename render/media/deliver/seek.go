package deliver

import (
	"context"
	"sync"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// locateSounds finds where the sound of what is heard is read from.
func locateSounds(ctx context.Context, t *media.Tools, c *graph.Clip) (graph.Sources, error) {
	sound := *c
	sound.Panes = nil
	return locateInputs(ctx, t, &sound, false)
}

// locateInputs finds, for all inputs at once, where their pictures and their sound are
// read from. Trusting takes an index of the container at its word for pictures,
// which the caller then counts.
func locateInputs(ctx context.Context, t *media.Tools, c *graph.Clip, trusting bool) (graph.Sources, error) {
	from := graph.Sources{Seeks: make([]media.Seek, len(c.Inputs)), Sound: make([]media.Seek, len(c.Inputs))}
	errs := make([]error, 2*len(c.Inputs))
	var wg sync.WaitGroup
	for i, l := range c.Inputs {
		n := l.Capture.StampAt(l.Start)
		switch {
		case !c.Decodes(i):
		case trusting && l.Capture.Indexed():
			from.Seeks[i] = l.Capture.SeekTo(n)
		default:
			wg.Go(func() { from.Seeks[i], errs[2*i] = t.Locate(ctx, l.Capture, n) })
		}
		if c.Sound.Hears(i) {
			wg.Go(func() { from.Sound[i], errs[2*i+1] = t.LocateSound(ctx, l.Capture, l.Start) })
		}
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return graph.Sources{}, err
		}
	}
	return from, nil
}
