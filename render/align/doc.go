// Package align finds by how much captures of the same play are apart in time,
// by their sound, by their pictures, or by both.
//
// Each capture is decoded once into a Track: its sound at a low rate, features
// of the sound, and a small signature of each picture, kept in temporary files,
// so that memory does not grow with a capture's length. Match then takes block
// after block of one track and looks for it in the other, coarse to fine: a
// normalised cross-correlation of features over the whole search range proposes
// offsets; GCC-PHAT (C. H. Knapp and G. C. Carter, "The generalized correlation
// method for estimation of time delay", IEEE Trans. ASSP 24(4), 1976) on the
// sound and a correlation of interpolated signatures weigh each proposal and
// refine it below a sample and below a frame.
//
// One offset rarely holds: machines load for different times. The blocks'
// proposals are joined into stretches, in each of which one offset holds, by the
// path of greatest evidence; a block that nothing speaks for belongs to none.
// Confidence is what the offset has over the next best one in the same blocks:
// sounds and pictures that repeat themselves, and sound that contradicts the
// pictures, leave little of it.
package align
