package render

import (
	"context"
	"errors"
	"sync"

	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
)

// delivery is what the file's output asks for. Its errors stand where the file
// says what cannot be had.
func (p *Project) delivery() (graph.Delivery, error) {
	o := p.File.Output
	d, err := deliver.Choose(deliver.DeliverySpec{Delivery: o.Delivery, Codec: o.Codec, Transfer: o.Transfer,
		Encoder: o.Encoder, Quality: o.Quality, Effort: o.Effort, Options: o.FFmpeg})
	if wrong := (*deliver.DeliveryError)(nil); errors.As(err, &wrong) {
		return d, p.File.Mistake(wrong.Key, wrong.Msg, wrong.Hint)
	}
	return d, err
}

// trials remember which encoders of graphics cards work here.
type trials struct {
	mu    sync.Mutex
	known map[string]tried // by the encoder asked for
}

type tried struct {
	delivery graph.Delivery
	fallback string
}

// usable returns the delivery as this machine can make it, and a warning where that
// is with another encoder than the one asked for. Each is tried once.
func (p *Project) usable(ctx context.Context, d graph.Delivery) (graph.Delivery, string, error) {
	p.trials.mu.Lock()
	defer p.trials.mu.Unlock()
	if t, ok := p.trials.known[d.Encoder.Name]; ok {
		return t.delivery, t.fallback, nil
	}
	able, fallback, err := deliver.UsableDelivery(ctx, p.Tools, d)
	if err != nil {
		return d, "", err
	}
	if p.trials.known == nil {
		p.trials.known = map[string]tried{}
	}
	p.trials.known[d.Encoder.Name] = tried{able, fallback}
	return able, fallback, nil
}
