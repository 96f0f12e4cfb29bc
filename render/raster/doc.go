// Package raster estimates from a capture's pixels what its pictures were scaled from.
//
// Scaling by a fixed kernel from N to M samples puts each new sample at one of a few
// places between two old ones, in a pattern that repeats with the frequency N/M. What a
// kernel does differs from place to place, so the size of the second difference has that
// period too (Gallagher 2005, Detection of Linear and Cubic Interpolation in JPEG
// Compressed Images; the height of its peak: Kirchner 2008, Fast and Reliable Resampling
// Detection by Spectral Analysis of Fixed Linear Predictor Residue). An encoder's blocks
// leave peaks as well, at multiples of 1/16, and N/M and its mirrors share one peak.
//
// So peaks only name candidates. Each is tried by scaling down and up again: the line that
// is nearest to a line of the picture among all that the candidate can make is found by
// least squares. What is left of it is small where the candidate is right, and not
// smaller than for rasters of nearly the same size where it is wrong. Blocks leave no
// such dip, nor does the content: those neighbours have the same bandwidth.
//
// What it finds is one scaling with a fixed kernel. That may be the game's or the
// recorder's. Where it finds none the picture may still be scaled: reconstruction over
// time, sharpening, grain, a display drawn over the picture at full size, and coarse
// coding hide a scaling.
package raster
