package main

import (
	"strings"
	"testing"
)

// TestProgressInALog: plain lines, not more often than every few seconds, with
// how far the job is, its speed and the time left; what runs at once is added up.
func TestProgressInALog(t *testing.T) {
	var log strings.Builder
	e := &env{stderr: &log}
	p := e.progress("batch", "frames")
	p.update("ridge", 10, 100)
	if log.Len() > 0 {
		t.Errorf("a line at once: %q", &log)
	}
	p.told = p.told.Add(-2 * between)
	p.update("ridge", 1, 200)
	if got, want := log.String(), "batch: 1 of 200 frames\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	log.Reset()
	p.update("ridge", 10, 100)
	// As if the job had begun ten seconds ago, and said nothing since.
	p.began = p.began.Add(-2 * between)
	p.told = p.began
	p.update("shore", 140, 200)
	if got, want := log.String(), "batch: 150 of 300 frames, 15 a second, 10 s left\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	p.update("shore", 141, 200)
	if n := strings.Count(log.String(), "\n"); n != 1 {
		t.Errorf("%d lines", n)
	}
	p.say("%s: done", "shore")
	p.done()
	if !strings.HasSuffix(log.String(), "\nshore: done\n") {
		t.Errorf("log %q", &log)
	}
}

func TestQuietShowsNoProgress(t *testing.T) {
	var log strings.Builder
	e := &env{stderr: &log, quiet: true}
	p := e.progress("batch", "frames")
	p.told = p.told.Add(-2 * between)
	p.update("ridge", 10, 100)
	p.say("ridge: done")
	p.done()
	if log.Len() > 0 {
		t.Errorf("log %q", &log)
	}
}
