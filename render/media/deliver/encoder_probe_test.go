package deliver

import (
	"image"
	"testing"

	"fairframe/render/pacing"
)

// Every delivery can be tried before it is made, whatever its container asks for.
func TestTrials(t *testing.T) {
	orders := []DeliverySpec{{Delivery: "overlay", Codec: "ffv1"}, {Delivery: "overlay", Codec: "vp9"}, {Delivery: "overlay", Codec: "png"}}
	for _, d := range Deliveries() {
		orders = append(orders, DeliverySpec{Delivery: d, Effort: "quick"})
	}
	for _, o := range orders {
		t.Run(o.Delivery+o.Codec, func(t *testing.T) {
			d, err := Choose(o)
			if err != nil {
				t.Fatal(err)
			}
			each, bytes, err := TimeEncoder(t.Context(), tools(t), d, image.Pt(256, 144), pacing.Rate{Num: 60, Den: 1})
			if err != nil {
				t.Fatal(err)
			}
			if each <= 0 || bytes <= 0 {
				t.Errorf("a frame took %v and came to %d bytes", each, bytes)
			}
		})
	}
}
