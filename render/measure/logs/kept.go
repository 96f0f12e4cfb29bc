package logs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// PathOf returns where the log of a measured capture is kept: beside the capture, as
// NAME.pacing.csv, or with the capture's ending where that is another capture's.
func PathOf(capture string) string {
	log := comparison.MeasuredLog(capture)
	f, err := scratch.Open(log)
	if err != nil {
		return log
	}
	defer f.Close()
	comments, err := pacing.Comments(f)
	if err != nil || len(comments) < 2 || !strings.HasPrefix(comments[0], byUs) ||
		strings.HasPrefix(comments[1], "capture: "+filepath.Base(capture)+", ") {
		return log
	}
	return comparison.FullMeasuredLog(capture)
}

// ownLog refuses the place of a measured log where something else lies.
func ownLog(log string) error {
	f, err := scratch.Open(log)
	if err != nil && !errors.Is(err, scratch.ErrNotRegular) {
		return nil // none, or one that writing will complain of
	}
	var comments []string
	if err == nil {
		defer f.Close()
		comments, err = pacing.Comments(f)
	}
	if err == nil && len(comments) > 0 && strings.HasPrefix(comments[0], byUs) {
		return nil
	}
	return &finding.Error{
		Msg:  fmt.Sprintf("the log %s would be overwritten, but this program did not write it", log),
		Hint: "choose another name with -o, or move the file"}
}

// originOf is the comment line that says what a log that is kept was made from, by which a
// later run knows whether it still holds.
func originOf(capture string, s measure.Settings, known *record.Files) (string, error) {
	identity, err := known.Capture(capture)
	if err != nil {
		return "", err
	}
	settings, err := json.Marshal(s)
	if err != nil {
		return "", fmt.Errorf("logs: %w", err)
	}
	return record.MadeFrom + identity + " " + string(settings) + " " + record.Version(), nil
}

// Keeper measures captures and keeps their logs, so that none is measured twice, however
// many ask for it at once.
type Keeper struct {
	Tools *media.Tools
	Files *record.Files
	// Measuring, if set, is told when a capture is about to be measured, and returns who
	// is told of the progress and of the end.
	Measuring func(capture string) (progress func(done, total int64), ended func())

	mu    sync.Mutex
	locks map[string]*sync.Mutex // by path of the capture
}

func (l *Keeper) lock(path string) (unlock func()) {
	l.mu.Lock()
	if l.locks == nil {
		l.locks = map[string]*sync.Mutex{}
	}
	one := l.locks[path]
	if one == nil {
		one = &sync.Mutex{}
		l.locks[path] = one
	}
	l.mu.Unlock()
	one.Lock()
	return one.Unlock
}

// tell says that a capture is about to be measured.
func (l *Keeper) tell(key string) (progress func(done, total int64), ended func()) {
	if l.Measuring == nil {
		return nil, func() {}
	}
	return l.Measuring(key)
}

// Path returns where the measured log of a capture lies, which covers a stretch of it and a
// second around. What is there is used again while the capture and the settings are those
// it was made from; what is missing is measured.
func (l *Keeper) Path(ctx context.Context, c *comparison.Capture, probed media.Capture, need Stretch) (string, error) {
	defer l.lock(c.Video)()
	log := c.Pacing.Log
	h, err := l.head(c)
	if err != nil {
		return log, err
	}
	need = need.around(margin, probed)
	if h.covers(need) {
		return log, nil
	}
	progress, ended := l.tell(c.Key)
	defer ended()
	defer l.Files.Forget(log)
	whole := need
	for _, part := range h.parts {
		whole = whole.joined(part)
	}
	if d := probed.Duration(); whole.From == 0 && d > 0 && whole.To >= d {
		_, err = Write(ctx, l.Tools, c.Video, log, Options{Settings: SettingsOf(c)}, progress)
		return log, err
	}
	return log, l.grow(ctx, c, probed, h, whole, progress)
}

// SettingsOf are the settings of a capture whose pacing is measured.
func SettingsOf(c *comparison.Capture) measure.Settings {
	return measure.Settings{Region: c.Pacing.Region, Ignore: c.Pacing.Ignore, Whole: c.Pacing.Tears == "none"}
}

// Kept reports whether a capture's measured log is there, still holds, and covers a
// stretch. A log of that name that this program did not keep there is an error.
func (l *Keeper) Kept(c *comparison.Capture, probed media.Capture, need Stretch) (bool, error) {
	h, err := l.head(c)
	return err == nil && h.covers(need.around(margin, probed)), err
}

// Part measures a stretch of a capture for the moment: no log is kept of it.
func (l *Keeper) Part(ctx context.Context, c *comparison.Capture, probed media.Capture,
	from, to time.Duration) (frames []pacing.Frame, err error) {
	progress, ended := l.tell(c.Key)
	defer ended()
	if d := probed.Duration(); d > 0 {
		to = min(to, d)
	}
	total := probed.Rate.FramesIn(to - from)
	_, err = measure.Capture(ctx, l.Tools, probed, SettingsOf(c), from, to, func(f pacing.Frame) error {
		frames = append(frames, f)
		return nil
	}, func(done int64) {
		if progress != nil {
			progress(done, max(done, total))
		}
	})
	return frames, err
}
