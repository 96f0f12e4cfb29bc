package logs

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// Frames reads the frames of a log in its own clock, rows that cannot be read left
// out.
func Frames(log string, f pacing.Format, c media.Capture) ([]pacing.Frame, error) {
	f.Starts = 0
	if factor, unit, wrong := WrongUnit(log, f); wrong {
		return nil, &finding.Error{Msg: fmt.Sprintf("%s: %s", filepath.Base(log), factor),
			Hint: "set unit: " + unit}
	}
	file, err := scratch.Open(log)
	if err != nil {
		return nil, &finding.Error{Msg: fmt.Sprintf("pacing log %s cannot be read: %v", log, scratch.Cause(err)),
			Hint: "check its path"}
	}
	defer file.Close()
	s := pacing.NewScanner(file, log, f, c.Rate)
	s.Count(c.TimeOf)
	var list []pacing.Frame
	var bad error
	for s.Scan() {
		switch r := s.Record(); {
		case r.Err != nil:
			bad = r.Err
		case len(list) == 0 || r.Frame.Begin > list[len(list)-1].Begin:
			list = append(list, r.Frame)
		}
	}
	if err := s.Err(); err != nil {
		return nil, &finding.Error{Msg: err.Error(), Hint: Hint(log)}
	}
	if len(list) < 2 {
		if bad == nil {
			bad = errors.New("it has fewer than two rows")
		}
		return nil, &finding.Error{Msg: fmt.Sprintf("%s holds no frames: %v", filepath.Base(log), bad),
			Hint: Hint(log)}
	}
	return list, nil
}

// WrongUnit says in a sentence that a log's frame times are a thousand times off.
func WrongUnit(log string, f pacing.Format) (text, unit string, wrong bool) {
	file, err := scratch.Open(log)
	if err != nil {
		return "", "", false
	}
	defer file.Close()
	factor, u, wrong := pacing.WrongFactor(file, f)
	if !wrong {
		return "", "", false
	}
	read := f.Unit
	if read == 0 {
		if read = pacing.Milliseconds; f.Means == pacing.TimeStamp {
			read = pacing.Seconds
		}
	}
	return pacing.WrongUnitText(factor, read), u.String(), true
}

// Hint says how a log could be read.
func Hint(log string) string {
	const other = "check the keys under pacing:; times in a log count from the capture's first frame, " +
		"and starts: shifts a log that counts from another moment"
	file, err := scratch.Open(log)
	if err != nil {
		return other
	}
	defer file.Close()
	g, err := pacing.GuessFormat(file)
	switch {
	case err != nil || g.Line == 0:
		return "a log is text with a header line and a row for each frame; remove what is before the " +
			"header, or begin those lines with #"
	case slices.Contains(g.Columns, pacing.TimeColumn) && slices.Contains(g.Columns, pacing.FrameTimeColumn):
		return other // in the tool's own format: it was read as it should be
	case g.Format.Column == "":
		return "tell which column to read and what it means, such as pacing: {file: " + filepath.Base(log) +
			", column: NAME, means: frame-time, unit: ms}; its columns: " + strings.Join(g.Columns, ", ")
	}
	return "try pacing: " + g.Mapping(filepath.Base(log))
}
