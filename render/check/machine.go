package check

import (
	"fmt"
	"strings"
	"time"
)

// Machine is what is known of where a batch would run.
type Machine struct {
	Version  string   // of ffmpeg
	Tried    []string // the releases that the tests were run with, where ffmpeg is of none of them
	Lacks    []string // encoders that the delivery needs and ffmpeg does not have
	Delivery string
	Fallback string // why another encoder than the one asked for is used; "": it is not
	Folder   string // where the clips go, when it cannot be written to
	Frames   int64  // of all clips
	Bytes    int64  // estimated at most, for all clips; 0: not estimated
	Free     int64  // bytes free where they go; -1: unknown
	Time     time.Duration
}

// leastOfMost is by how much play may come to fewer bytes than the noise from
// which the most is estimated. Less is not to be expected of any picture that
// moves, so that what does not fit even then cannot be rendered.
const leastOfMost = 10

// Findings judges whether the machine can do it.
func (m Machine) Findings() []Finding {
	var list []Finding
	if len(m.Lacks) > 0 {
		list = append(list, Finding{Severity: Fails, What: "ffmpeg lacks an encoder",
			Evidence: fmt.Sprintf("delivery %s needs %s", m.Delivery, strings.Join(m.Lacks, ", ")),
			Remedy:   "install a full build of ffmpeg, or choose another delivery"})
	}
	if len(m.Tried) > 0 {
		list = append(list, Finding{Severity: Note, What: "this version of ffmpeg was not tried",
			Evidence: fmt.Sprintf("it is %s; the releases %s were", m.Version, strings.Join(m.Tried, ", ")),
			Remedy:   "look at the first clip closely, or name one of those with --ffmpeg PATH"})
	}
	if m.Fallback != "" {
		list = append(list, Finding{Severity: Note, What: "another encoder would be used",
			Evidence: m.Fallback,
			Remedy:   "remove encoder:, or render on a machine where it works"})
	}
	if m.Folder != "" {
		list = append(list, Finding{Severity: Fails, What: "the output folder cannot be written to",
			Evidence: m.Folder, Remedy: "set another output: folder:, or change its rights"})
	}
	list = append(list, Room(m.Bytes, m.Free)...)
	e := "ffmpeg " + m.Version
	if m.Frames > 0 && m.Time > 0 {
		e += fmt.Sprintf("; %d frames, estimated at most %s on disk", m.Frames, size(m.Bytes))
		if m.Free >= 0 {
			e += " of " + size(m.Free) + " free"
		} else {
			e += ", of which the free space is not known here,"
		}
		e += fmt.Sprintf(" and about %s to render one after another", m.Time.Round(time.Second))
	}
	return append(list, Finding{Severity: Note, What: "this machine", Evidence: e})
}

// Room judges whether clips that come to so many bytes at most fit into what is
// free, which is -1 when that is not known.
func Room(most, free int64) []Finding {
	f := Finding{Evidence: fmt.Sprintf("%s to %s needed, %s free",
		size(most/leastOfMost), size(most), size(free)), Remedy: "make room, or set another output folder"}
	switch {
	case free < 0 || most <= free:
		return nil
	case most/leastOfMost > free:
		f.Severity, f.What = Fails, "not enough disk space"
	default:
		f.Severity, f.What = Note, "disk space may run out"
	}
	return []Finding{f}
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
