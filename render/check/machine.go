package check

import (
	"fmt"
	"strings"
	"time"
)

// Machine is what is known of where a batch would run.
type Machine struct {
	Version  string   // of ffmpeg
	Lacks    []string // encoders that the delivery needs and ffmpeg does not have
	Delivery string
	Frames   int64 // of all clips
	Bytes    int64 // estimated, for all clips
	Free     int64 // bytes free where they go; -1: unknown
	Time     time.Duration
}

// Findings judges whether the machine can do it.
func (m Machine) Findings() []Finding {
	var list []Finding
	if len(m.Lacks) > 0 {
		list = append(list, Finding{Severity: Fails, What: "ffmpeg lacks an encoder", Evidence: fmt.Sprintf("delivery %s needs %s", m.Delivery, strings.Join(m.Lacks, ", ")),
			Remedy: "install a full build of ffmpeg, or choose another delivery"})
	}
	if m.Free >= 0 && m.Bytes > m.Free {
		list = append(list, Finding{Severity: Fails, What: "not enough disk space", Evidence: fmt.Sprintf("about %s needed, %s free", size(m.Bytes), size(m.Free)),
			Remedy: "make room, or set another output folder"})
	}
	e := "ffmpeg " + m.Version
	if m.Frames > 0 && m.Time > 0 {
		e += fmt.Sprintf("; %d frames, estimated at most %s on disk", m.Frames, size(m.Bytes))
		if m.Free >= 0 {
			e += " of " + size(m.Free) + " free"
		}
		e += fmt.Sprintf(" and about %s to render one after another", m.Time.Round(time.Second))
	}
	return append(list, Finding{Severity: Note, What: "this machine", Evidence: e})
}

func size(n int64) string {
	switch {
	case n < 1e6:
		return fmt.Sprintf("%.1f kB", float64(n)/1e3)
	case n < 1e9:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%.1f GB", float64(n)/1e9)
}
