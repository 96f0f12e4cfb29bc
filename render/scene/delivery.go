package scene

import (
	"context"
	"errors"

	"fairframe/render/comparison"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
)

// Delivery is what a file's output asks for. Its errors stand where the file says what
// cannot be had.
func Delivery(f *comparison.File) (graph.Delivery, error) {
	o := f.Output
	d, err := deliver.Choose(deliver.DeliverySpec{Delivery: o.Delivery, Codec: o.Codec, Transfer: o.Transfer,
		Encoder: o.Encoder, Quality: o.Quality, Effort: o.Effort, Options: o.FFmpeg})
	if wrong := (*deliver.DeliveryError)(nil); errors.As(err, &wrong) {
		return d, f.Mistake(wrong.Key, wrong.Msg, wrong.Hint)
	}
	return d, err
}

// usable is a delivery that works on this machine, and why it is another one than was
// asked for; "": it is the same.
type usable struct {
	delivery graph.Delivery
	fallback string
}

// Usable returns the delivery as this machine can make it, and a warning where that is
// with another encoder than the one asked for. Each is tried once.
func (p *Project) Usable(ctx context.Context,
	d graph.Delivery) (able graph.Delivery, fallback string, err error) {
	one, err := p.usable.Get(ctx, d.Encoder.Name, func() (one usable, err error) {
		one.delivery, one.fallback, err = deliver.UsableDelivery(ctx, p.Tools, d)
		return one, err
	})
	return one.delivery, one.fallback, err
}
