package check

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// capture checks one recording and its log.
func (c *checker) capture(ctx context.Context, one *comparison.Capture) {
	defer c.step()
	p := c.p
	probed, err := p.Capture(ctx, one.Video)
	if err != nil {
		c.bad[one.Key] = true
		c.add(one.Key, "", finding.OfError("the capture cannot be used", err))
		return
	}
	c.add(one.Key, "", probed.Warnings...)
	c.add(one.Key, "", stampFindings(probed)...)
	tags := probed.Tags
	c.add(one.Key, "", Captures(Recording{
		Free: !probed.Refresh().Valid(),
		Size: probed.Size, Rate: probed.Rate, Matrix: tags.Matrix, Primaries: tags.Primaries,
		Transfer: tags.Transfer, Range: tags.Range, TakenMatrix: probed.Colour.Matrix,
		TakenFull: probed.Colour.Full,
	}, p.File.Output.Size, p.File.Output.Rate)...)
	if c.deep {
		c.damage(ctx, one.Key, nil, probed, 0, -1)
		c.gaps(ctx, one.Key, probed)
	}
	if one.Pacing.File != "" {
		c.log(one, probed)
	}
}

// gaps looks at the time stamps of a whole capture. No scene need show a gap; one
// that does says so itself.
func (c *checker) gaps(ctx context.Context, key string, probed media.Capture) {
	end := probed.Duration()
	if end <= 0 || probed.Variable() {
		return // its own finding tells
	}
	stamps, missing, err := c.p.Tools.Stamps(ctx, probed, 0, end)
	if err != nil {
		return // the scenes' own stretches say so
	}
	for _, f := range Stamps(stamps, missing, probed.Rate, 0, end) {
		f.Severity = finding.Note
		f.Remedy = "no scene has to show it; scenes that show it have a finding of their own"
		c.add(key, "", f)
	}
}

// damage adds what a decoder complains of: in the whole capture (no scene, count
// < 0), or in a scene's stretch in which it has complained already.
func (c *checker) damage(ctx context.Context, key string, s *comparison.Scene, probed media.Capture,
	from, count int64) {
	t := c.p.Tools
	scene := ""
	if s != nil {
		scene = s.ID
	}
	if count < 0 {
		trouble, err := t.Complaint(ctx, probed)
		if err != nil {
			c.add(key, scene, finding.OfError("the capture cannot be decoded", err))
			return
		}
		if trouble == "" {
			return
		}
		count = max(1, probed.Frames)
	}
	if err := t.Damage(ctx, key, probed, from, count); err != nil && ctx.Err() == nil {
		f := finding.OfError("the capture is damaged", err)
		if d := (*media.Damaged)(nil); errors.As(err, &d) {
			f.At, f.Placed = d.From(), true
		}
		switch {
		case s == nil:
			// No scene need show that place; one that does says so itself.
			f.Severity = finding.Misleads
		case s.Tolerates(comparison.TolerateDecodeErrors):
			f.Severity, f.What = finding.Misleads, "the capture is damaged, which the scene tolerates"
			f.Remedy = "the clip will show what the decoder makes up; the manifest, verify and the " +
				"closing page say so"
		}
		c.add(key, scene, f)
	}
}

// log checks what a log covers; it is read as a stream.
func (c *checker) log(one *comparison.Capture, probed media.Capture) {
	file, err := scratch.Open(one.Pacing.File)
	if err != nil {
		c.add(one.Key, "", finding.Finding{Severity: finding.Fails, What: "the pacing log cannot be read",
			Evidence: fmt.Sprint(scratch.Cause(err)),
			Remedy:   "check the path after pacing:"})
		return
	}
	defer file.Close()
	var begin, end time.Duration
	var rows, bad int
	var firstBad error
	s := pacing.NewScanner(file, one.Pacing.File, one.Pacing.Format, probed.Rate)
	s.Count(probed.TimeOf)
	for s.Scan() {
		r := s.Record()
		if r.Err != nil {
			if bad++; firstBad == nil {
				firstBad = r.Err
			}
			continue
		}
		if rows == 0 {
			begin = r.Frame.Begin
		}
		rows++
		end = r.Frame.End()
	}
	if err := s.Err(); err != nil {
		c.add(one.Key, "", finding.OfError("the pacing log cannot be read", err))
		return
	}
	if bad > 0 {
		c.add(one.Key, "", finding.Finding{Severity: finding.Misleads, What: "the pacing log has bad rows",
			Evidence: fmt.Sprintf("%d of %d, the first: %v", bad, bad+rows, baseOf(firstBad)),
			Remedy:   "mend or remove them"})
	}
	unit := "its own unit"
	if one.Pacing.Format.Unit != 0 {
		unit = one.Pacing.Format.Unit.String()
	}
	c.add(one.Key, "", Extent(begin, end, probed.Duration(), unit)...)
}

// baseOf shortens the path of a bad row to the file's name.
func baseOf(err error) error {
	if row := (*pacing.RowError)(nil); errors.As(err, &row) {
		short := *row
		short.File = filepath.Base(row.File)
		return &short
	}
	return err
}
