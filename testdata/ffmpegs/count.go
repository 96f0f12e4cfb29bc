package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
)

// row is a line of the table.
type row struct {
	release, version string
	left             string // why it was left out; "": it was not
	passed, failed   int    // tests and subtests
	skipped          map[string]string
}

// event is what go test -json says (go doc test2json).
type event struct{ Action, Package, Test, Output string }

// count counts the tests of a run of go test -json, with all their subtests. It prints
// what the failed ones said, and keeps what the skipped ones said.
func (r *row) count(from io.Reader, to io.Writer) error {
	if r.skipped == nil {
		r.skipped = map[string]string{}
	}
	type key struct{ pkg, test string }
	said, failing := map[key][]string{}, map[string]bool{}
	d := json.NewDecoder(bufio.NewReader(from))
	for {
		var e event
		if err := d.Decode(&e); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return fmt.Errorf("reading go test -json: %w", err)
		}
		k := key{e.Package, e.Test}
		switch e.Action {
		case "output", "build-output":
			said[k] = append(said[k], e.Output)
			continue
		case "pass":
			if e.Test != "" {
				r.passed++
			}
		case "skip":
			if e.Test != "" {
				r.skipped[e.Package+" "+e.Test] = reason(said[k])
			}
		case "fail":
			// A package fails with its tests, or by itself: it does not build, it panics.
			if e.Test == "" && failing[e.Package] {
				break
			}
			failing[e.Package] = true
			r.failed++
			fmt.Fprintf(to, "FAIL %s: %s %s\n%s", r.release, e.Package, e.Test, strings.Join(said[k], ""))
		default:
			continue
		}
		delete(said, k)
	}
}

// reason is what a skipped test says of why.
func reason(said []string) string {
	for _, line := range said {
		if _, why, ok := strings.Cut(line, ".go:"); ok {
			_, why, _ = strings.Cut(why, ": ")
			return strings.TrimSpace(why)
		}
	}
	return "no reason given"
}

// printTable prints what was left out, and a line a release.
func printTable(w io.Writer, rows []row) {
	for _, r := range rows {
		for _, test := range slices.Sorted(maps.Keys(r.skipped)) {
			fmt.Fprintf(w, "left out in %s: %s: %s\n", r.release, test, r.skipped[test])
		}
	}
	fmt.Fprintf(w, "\n%-10s %-8s %7s %7s %9s\n", "release", "ffmpeg", "passed", "failed", "left out")
	for _, r := range rows {
		if r.left != "" {
			fmt.Fprintf(w, "%-10s left out: %s\n", r.release, r.left)
			continue
		}
		fmt.Fprintf(w, "%-10s %-8s %7d %7d %9d\n", r.release, r.version, r.passed, r.failed, len(r.skipped))
	}
}

// exitCode is 1 if a test failed, else 3 if a release was left out.
func exitCode(rows []row) int {
	code := 0
	for _, r := range rows {
		switch {
		case r.failed > 0:
			return 1
		case r.left != "":
			code = 3
		}
	}
	return code
}
