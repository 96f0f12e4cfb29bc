package media

import (
	"fmt"
	"strings"

	"fairframe/render/finding"
)

// Error is a failure that a user can do something about.
type Error struct {
	Msg  string // what was found, lower case, no full stop
	Hint string // what to do; may be empty
	Log  string // the last lines of ffmpeg's own words; may be empty
	Err  error  // the cause; may be nil
}

// Error returns the message, and ffmpeg's last words below it.
func (e *Error) Error() string {
	s := e.Msg
	if e.Err != nil {
		s += ": " + e.Err.Error()
	}
	if e.Log != "" {
		s += "\n" + indent(e.Log)
	}
	return s
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// Hints returns what to do about the error, a sentence each.
func (e *Error) Hints() []string {
	if e.Hint == "" {
		return nil
	}
	return []string{e.Hint}
}

func indent(s string) string {
	return "  ffmpeg: " + strings.ReplaceAll(strings.TrimRight(s, "\n"), "\n", "\n  ffmpeg: ")
}

// explain turns the end of ffmpeg's log into an error with a hint. Its words
// are matched loosely: they differ between versions, and an unmatched log is
// still shown whole.
func explain(what string, exit error, log *logTail) error {
	text := log.String()
	e := &Error{Msg: what, Log: text, Err: exit}
	switch {
	case strings.Contains(text, "No space left on device"):
		e.Msg, e.Hint = what+": the disk is full", "make room, or set another output folder"
		return &finding.Passing{Err: e}
	case strings.Contains(text, "Unknown encoder"):
		e.Hint = "this ffmpeg lacks an encoder that the delivery needs; install a full build of ffmpeg, or choose another delivery"
	case strings.Contains(text, "Permission denied"):
		e.Hint = "the file or folder may not be read or written by you"
	case strings.Contains(text, "Format not on whitelist"):
		e.Hint = "this is not a video container that fairframe opens (mkv, mp4, mov, ts, avi, mxf, nut …)"
	case strings.Contains(text, "Invalid data found") && !strings.Contains(text, "moov atom not found"):
		e.Hint = "the file is no video, damaged, or still being written; name the recording itself, copy or record it again"
	case strings.Contains(text, "moov atom not found"):
		e.Hint = "the file is damaged or still being written; copy or record it again"
	}
	if killed(exit) {
		return &finding.Passing{Err: e}
	}
	return e
}

func Frames(n int64) string {
	if n == 1 {
		return "1 frame"
	}
	return fmt.Sprintf("%d frames", n)
}
