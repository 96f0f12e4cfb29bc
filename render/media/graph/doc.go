// Package graph describes a clip and turns it into ffmpeg's arguments. It runs
// nothing: package deliver does.
//
// # What was tried and lost
//
//   - `-ss` with an `fps` filter: the default rounding and a half-frame phase
//     duplicate and drop frames of millisecond-stamped files.
//   - `fps=round=down` on exact stamps: shows the last frame that starts before
//     the *end* of the output frame; at 120 in 60 that is one frame late.
//   - more than one generated input: ffmpeg opens and probes inputs one after
//     the other, and some order of writing always deadlocks.
//   - a strip in RGBA: swscale's conversion costs more than the drawing.
package graph
