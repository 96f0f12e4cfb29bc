package scene

import (
	"fmt"

	"fairframe/render/comparison"
	"fairframe/render/media"
	"fairframe/render/record"
)

// Tolerated is what of the captures the clip shows although it is wrong, because its
// scene tolerates that: gaps, or the damage that the footage knows of.
func (f *Footage) Tolerated() (list []record.Tolerated) {
	for _, t := range f.Takes {
		if f.Scene.Tolerates(comparison.TolerateGaps) {
			for _, g := range gapsIn(t, f.Scene) {
				list = append(list, ofGap(t, f.Scene, g))
			}
		}
	}
	for i := range f.damage {
		list = append(list, f.OfDamage(&f.damage[i]))
	}
	return list
}

// OfDamage ties damage to the scene's time.
func (f *Footage) OfDamage(d *media.Damaged) record.Tolerated {
	one := record.Tolerated{Capture: d.Capture, First: d.First, Last: d.Last, From: d.From().Seconds(),
		To: d.To().Seconds(), Complaints: d.Complaints, Words: d.Words}
	for _, t := range f.Takes {
		if t.Key == d.Capture {
			one.SceneFrom = max(0, d.From()-t.Start).Seconds()
			one.SceneTo = min(f.Scene.Length, max(0, d.To()-t.Start)).Seconds()
		}
	}
	return one
}

// Remarks are what the closing page says of what is tolerated.
func Remarks(file *comparison.File, list []record.Tolerated) (remarks []string) {
	for i, t := range list {
		name := t.Capture
		if c, ok := file.Capture(name); ok {
			name = c.Name
		}
		if t.Kind != record.Gap {
			remarks = append(remarks, fmt.Sprintf("%s: the recording is damaged; from %.2f s to %.2f s its "+
				"pictures may be made up by the decoder.", name, t.SceneFrom, t.SceneTo))
			continue
		}
		if i > 0 && list[i-1].Capture == t.Capture {
			continue // said with its first gap
		}
		n, last := 0, t
		for _, o := range list {
			if o.Capture == t.Capture {
				n, last = n+1, o
			}
		}
		when := fmt.Sprintf("from %.2f s to %.2f s", t.SceneFrom, t.SceneTo)
		if n > 1 {
			when = fmt.Sprintf("in %d places between %.2f s and %.2f s", n, t.SceneFrom, last.SceneTo)
		}
		what := "the picture before is shown"
		switch t.Pacing {
		case record.PacingUnknown:
			what = "its pacing is not known"
		case record.PacingLogged:
			what += ", the pacing is its log's"
		}
		remarks = append(remarks, fmt.Sprintf("%s: the recorder dropped pictures; %s %s.", name, when, what))
	}
	return remarks
}
