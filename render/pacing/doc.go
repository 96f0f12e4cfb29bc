// Package pacing holds which frames of a game a capture shows, and for how long:
// exact rates, the records of a pacing log (Scanner, ReadTrace, WriteLog), the
// frames in order (Trace) with the frame-rate line over them (RateAt), and what can
// be said of a stretch of them (Figures, Spans, Compare).
//
// Times are integer nanoseconds in capture time, which counts from the capture's
// first video frame; rates are fractions. The package imports the standard library
// only.
package pacing
