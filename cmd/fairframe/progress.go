package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// progress shows how far a job is: a bar on a terminal, plain lines now and then
// in a log, nothing when quiet. Several parts of a job may report at once; what
// is shown is their sum. It is safe for concurrent use.
type progress struct {
	w     io.Writer
	label string
	unit  string
	quiet bool
	bar   *progressbar.ProgressBar // nil in a log

	mu          sync.Mutex
	parts       map[string]part
	began, told time.Time
}

type part struct{ done, total int64 }

// between is how often a log gets a line.
const between = 5 * time.Second

// progress starts showing a job.
func (e *env) progress(label, unit string) *progress {
	p := &progress{w: e.stderr, label: label, unit: unit, quiet: e.quiet, parts: map[string]part{},
		began: time.Now()}
	p.told = p.began
	if f, ok := e.stderr.(*os.File); ok && !e.quiet && term.IsTerminal(int(f.Fd())) {
		// Of a bar without a length the library draws a spinner, from a goroutine
		// that never ends and draws over what follows; so it has one from the start.
		p.bar = progressbar.NewOptions64(1,
			progressbar.OptionSetWriter(e.stderr), progressbar.OptionSetDescription(label),
			progressbar.OptionShowCount(), progressbar.OptionShowIts(), progressbar.OptionSetItsString(unit),
			progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionFullWidth(),
			progressbar.OptionSetPredictTime(true), progressbar.OptionSetElapsedTime(true),
			progressbar.OptionClearOnFinish())
	}
	return p
}

// update sets how far one part of the job is.
func (p *progress) update(name string, done, total int64) {
	if p.quiet {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.parts[name] = part{done, total}
	var sum part
	for _, one := range p.parts {
		sum.done += one.done
		sum.total += one.total
	}
	if p.bar != nil {
		sum.total = max(sum.total, 1) // 0: not known
		if sum.total != p.bar.GetMax64() {
			p.bar.ChangeMax64(sum.total)
		}
		_ = p.bar.Set64(min(sum.done, sum.total-1)) // the bar's end comes with done
		return
	}
	if now := time.Now(); now.Sub(p.told) >= between && sum.done > 0 {
		p.told = now
		if sum.done*100 < sum.total { // what the first frames take says nothing of the others
			fmt.Fprintf(p.w, "%s: %d of %d %s\n", p.label, sum.done, sum.total, p.unit)
			return
		}
		took := now.Sub(p.began).Seconds()
		speed := float64(sum.done) / took
		left := float64(sum.total-sum.done) / speed
		fmt.Fprintf(p.w, "%s: %d of %d %s, %.0f a second, %.0f s left\n",
			p.label, sum.done, sum.total, p.unit, speed, left)
	}
}

// say prints a line of text without disturbing the bar.
func (p *progress) say(format string, args ...any) {
	if p.quiet {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar != nil {
		_ = p.bar.Clear()
	}
	fmt.Fprintf(p.w, format+"\n", args...)
}

// done takes the bar away.
func (p *progress) done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}
