// Package media is the only door to ffmpeg: it finds the programs, probes
// captures, turns a clip's description into one ffmpeg graph, runs it, and
// checks what came out.
//
// # Which frame is which
//
// A frame's number comes from its time stamp and from nothing else: stamp
// minus the stamp of the capture's first frame, in units of the capture's
// exact rate, rounded. Where a seek lands, how a container rounds, or by how
// much its sound starts before its picture, can then make a clip slower to
// render but never move a frame. Every leg of the graph counts the frames that
// it took; a clip whose counts are not the expected ones is thrown away.
//
// # How few programs are started
//
// Starting ffmpeg or ffprobe takes 70 ms of a processor where they are linked with
// some two hundred libraries, more than decoding a short clip. So ffmpeg is asked once
// what it is, a capture is probed once, a finished file is read once for its count and
// its digests, and a position is tried with a decoder (Locate) only where neither the
// container's index nor the count of frames can be relied on.
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
package media
