package raster

import "math"

// A kernel is how a scaler weighs source samples by their distance from a place, in
// source samples. It is 0 from radius on.
type kernel struct {
	radius float64
	at     func(x float64) float64
}

// catmullRom is one of the cubics of Mitchell and Netravali 1988 (Reconstruction Filters
// in Computer Graphics).
var catmullRom = kernel{2, cubic(0, 0.5)}

// cubic is the cubic of two parameters of Mitchell and Netravali 1988, equation 8.
func cubic(b, c float64) func(float64) float64 {
	return func(x float64) float64 {
		x = math.Abs(x)
		switch {
		case x < 1:
			return ((12-9*b-6*c)*x*x*x + (-18+12*b+6*c)*x*x + 6 - 2*b) / 6
		case x < 2:
			return ((-b-6*c)*x*x*x + (6*b+30*c)*x*x + (-12*b-48*c)*x + 8*b + 24*c) / 6
		}
		return 0
	}
}
