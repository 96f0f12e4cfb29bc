package media

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"time"

	"fairframe/render/finding"
)

// Process is one run of ffmpeg or ffprobe. At most one pipe each way: stdin
// carries the only generated input, stdout the progress or the decoded data,
// stderr the log. Every pipe has its own goroutine, so none can fill up while
// another waits.
type Process struct {
	Program string // "": ffmpeg
	Args    []string
	Stdin   func(io.Writer) error // writes the generated input; nil: no input
	Stdout  func(io.Reader) error // reads the output to its end; nil: discarded
	Line    func(string)          // sees each line of the log; nil: only the tail is kept
	What    string                // what failed, for the error's text
}

// Globals are ffmpeg's global arguments for a run that nobody watches, with its log at
// a level, and further ones.
func Globals(level string, more ...string) []string {
	return append([]string{"-hide_banner", "-v", "level+" + level, "-nostats", "-nostdin"}, more...)
}

// waitAfterKill bounds how long a killed process's pipes may linger.
const waitAfterKill = 5 * time.Second

// Run starts the process and waits for its end. It returns ctx's error when it
// was cancelled, in which case the whole process group has been killed.
func (t *Tools) Run(ctx context.Context, p Process) error {
	if p.Program == "" {
		p.Program = t.FFmpeg
	}
	// The kernel ends the child with the *thread* that started it (see
	// process_linux.go), so that thread must live as long as the child.
	if t.Trace != nil {
		t.Trace(p.Program, p.Args)
	}
	done := make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		done <- runHere(ctx, p)
	}()
	return <-done
}

func runHere(ctx context.Context, p Process) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	cmd := exec.CommandContext(inner, p.Program, p.Args...)
	setGroup(cmd)
	cmd.Cancel = func() error { return killGroup(cmd) }
	cmd.WaitDelay = waitAfterKill

	var stdin io.WriteCloser
	var err error
	if p.Stdin != nil {
		if stdin, err = cmd.StdinPipe(); err != nil {
			return fmt.Errorf("media: %w", err)
		}
	}
	stdout, err := cmd.StdoutPipe()
	if err != nil {
		return fmt.Errorf("media: %w", err)
	}
	widen(stdout)
	stderr, err := cmd.StderrPipe()
	if err != nil {
		return fmt.Errorf("media: %w", err)
	}
	if err := cmd.Start(); err != nil {
		return &Error{Msg: fmt.Sprintf("media: cannot start %s", p.Program), Err: err, Hint: InstallHint()}
	}

	var wg sync.WaitGroup
	var writeErr, readErr error
	if stdin != nil {
		wg.Go(func() {
			// Closing is what tells ffmpeg that the input has ended.
			writeErr = errors.Join(p.Stdin(stdin), stdin.Close())
			if writeErr != nil && !pipeClosed(writeErr) {
				cancel()
			}
		})
	}
	wg.Go(func() {
		if p.Stdout != nil {
			if readErr = p.Stdout(stdout); readErr != nil {
				cancel()
			}
		}
		_, _ = io.Copy(io.Discard, stdout)
	})
	var log logTail
	wg.Go(func() { drainLog(stderr, &log, p.Line) })
	wg.Wait()
	exit := cmd.Wait()

	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(readErr, io.ErrUnexpectedEOF) && killed(exit):
		return &finding.Passing{Err: readErr}
	case readErr != nil:
		return readErr
	case writeErr != nil && !pipeClosed(writeErr):
		return writeErr
	case exit != nil:
		what := p.What
		if what == "" {
			what = "media: " + programName(p.Program) + " failed"
		}
		return explain(what, exit, &log)
	}
	return nil
}

// killed reports whether a signal ended a program.
func killed(exit error) bool {
	ended := (*exec.ExitError)(nil)
	return errors.As(exit, &ended) && ended.ExitCode() == -1
}

// pipeClosed reports whether a write failed only because ffmpeg had read all
// that it wanted. What the clip is worth is decided by its frame count.
func pipeClosed(err error) bool {
	return errors.Is(err, syscall.EPIPE) || errors.Is(err, io.ErrClosedPipe) || brokenPipe(err)
}

func programName(path string) string {
	path = path[strings.LastIndexAny(path, `/\`)+1:]
	return strings.TrimSuffix(path, ".exe")
}

// drainLog reads the log to its end, whatever its lines look like.
func drainLog(r io.Reader, tail *logTail, each func(string)) {
	br := bufio.NewReaderSize(r, 16<<10)
	for {
		line, err := br.ReadString('\n')
		if line = strings.TrimRight(line, "\r\n"); line != "" {
			tail.add(line)
			if each != nil {
				each(line)
			}
		}
		if err != nil {
			return
		}
	}
}

// logTail keeps the last lines of the log that are warnings or worse.
type logTail struct{ lines []string }

const (
	tailLines    = 8
	longestLine  = 400
	levelInfo    = "[info]"
	levelVerbose = "[verbose]"
	levelDebug   = "[debug]"
)

func (l *logTail) add(line string) {
	for _, quiet := range []string{levelInfo, levelVerbose, levelDebug} {
		if strings.Contains(line, quiet) {
			return
		}
	}
	if len(line) > longestLine {
		line = line[:longestLine] + "…"
	}
	l.lines = append(l.lines, line)
	if len(l.lines) > tailLines {
		l.lines = l.lines[1:]
	}
}

func (l *logTail) String() string { return strings.Join(l.lines, "\n") }

func ReadInto(b *strings.Builder) func(io.Reader) error {
	return func(r io.Reader) error {
		_, err := io.Copy(b, r)
		return err
	}
}
