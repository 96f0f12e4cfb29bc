// Package media is the only door to ffmpeg: it finds the programs and runs them,
// probes captures, finds where to read them from, and decodes them. Package graph
// turns a clip's description into ffmpeg's arguments; package deliver encodes clips
// and checks what came out.
//
// # Which frame is which
//
// A frame's number comes from its time stamp and from nothing else: stamp
// minus the stamp of the capture's first frame, in units of the capture's
// exact rate, rounded. Where a seek lands, how a container rounds, or by how
// much its sound starts before its picture, can then make a clip slower to
// render but never move a frame. Every input of the graph counts the frames that
// it took; a clip whose counts are not the expected ones is thrown away.
//
// # How few programs are started
//
// Starting ffmpeg or ffprobe takes 70 ms of a processor where they are linked with
// some two hundred libraries, more than decoding a short clip. So ffmpeg is asked once
// what it is, a capture is probed once, a finished file is read once for its count and
// its digests, and a position is tried with a decoder (Locate) only where neither the
// container's index nor the count of frames can be relied on.
package media
