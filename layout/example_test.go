package layout_test

import (
	"fmt"
	"image"

	"fairframe/layout"
)

// Captures of different sizes show the same part of the scene at the same scale.
func ExampleWindow_Shoot() {
	window := layout.Window{
		CenterX: layout.Fraction{Num: 1, Den: 2}, CenterY: layout.Fraction{Num: 1, Den: 2},
		Magnify: layout.Fraction{Num: 2, Den: 1},
	}
	for _, capture := range []image.Point{{X: 1920, Y: 1080}, {X: 1280, Y: 720}} {
		shot, err := window.Shoot(capture, image.Pt(960, 760), image.Pt(1920, 1080))
		if err != nil {
			panic(err)
		}
		fmt.Printf("of %v: %v, scaled by %s\n", capture, shot.Shown(), shot.Scale.RatString())
	}
	// Output:
	// of (1920,1080): (720,350)-(1200,730), scaled by 2
	// of (1280,720): (480,233)-(800,487), scaled by 3
}
