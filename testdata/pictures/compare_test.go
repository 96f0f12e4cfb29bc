package main

import (
	"strings"
	"testing"
)

func TestRead(t *testing.T) {
	for _, tt := range []struct {
		a, b     string
		bytes    int
		farthest int
		unequal  int64
		fails    bool
	}{
		{"\x10\x20\x30", "\x10\x20\x30", 1, 0, 0, false},
		{"\x10\x20\x30", "\x11\x1e\x30", 1, 2, 2, false},
		{"\x00\x01\xff\x00", "\xff\x00\x00\x01", 2, 1, 2, false},
		{"\x10\x20", "\x10", 1, 0, 0, true},
		{"\x10\x20\x30", "\x10\x20\x30", 2, 0, 0, true},
	} {
		var d difference
		err := d.read(strings.NewReader(tt.a), strings.NewReader(tt.b), tt.bytes)
		if (err != nil) != tt.fails || d.farthest != tt.farthest || d.unequal != tt.unequal {
			t.Errorf("%q and %q: %+v, %v", tt.a, tt.b, d, err)
		}
	}
	if (difference{tags: "equal"}).within(farthestCode) || (difference{codes: 9, farthest: 2, tags: "equal"}).within(farthestCode) || (difference{codes: 9, tags: "a, and b"}).within(farthestCode) {
		t.Error("clips that differ are within bounds")
	}
}
