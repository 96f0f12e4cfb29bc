//go:build race

package demo

// raced says that the race detector is on, under which drawing takes ten times
// as long: tests that draw the same kind of pictures once more are left out.
const raced = true
