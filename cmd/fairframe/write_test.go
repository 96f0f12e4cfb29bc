package main

import (
	"os"
	"testing"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// often is how many of something are tried: few in every run, many with --faults.
func often(few, many int) int {
	if os.Getenv("FAIRFRAME_FAULTS") != "" {
		return many
	}
	return few
}
