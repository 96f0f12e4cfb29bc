package raster

import "math"

// kernels are those that scalers of the trade use: the cubics of Mitchell and Netravali
// 1988, and that of Duchon 1979 (Lanczos Filtering in One and Two Dimensions).
var kernels = []kernel{
	{1, func(x float64) float64 { return max(0, 1-math.Abs(x)) }},
	catmullRom,
	{2, cubic(1./3, 1./3)},
	{3, lanczos},
}

// lanczos is sinc windowed by the middle lobe of a sinc that is three times as wide.
func lanczos(x float64) float64 {
	sinc := func(x float64) float64 {
		if x == 0 {
			return 1
		}
		return math.Sin(math.Pi*x) / (math.Pi * x)
	}
	if math.Abs(x) >= 3 {
		return 0
	}
	return sinc(x) * sinc(x/3)
}
