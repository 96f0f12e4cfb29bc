// Package deliver turns clips into files: it knows the deliveries and their encoders,
// runs the encoding, reads what came out back and compares it with what was asked,
// brings sound to a loudness, and joins clips to a reel. Stills and small pictures of
// a clip come from here too, because they are made by the same graph.
package deliver
