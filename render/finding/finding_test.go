package finding

import (
	"strings"
	"testing"
)

func compare(t *testing.T, name string, got []Finding, want ...string) {
	t.Helper()
	var list []string
	for _, f := range got {
		list = append(list, f.String())
	}
	if strings.Join(list, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s: found\n  %s\nwant\n  %s", name, strings.Join(list, "\n  "), strings.Join(want, "\n  "))
	}
}

func TestSort(t *testing.T) {
	list := Sort([]Finding{{Severity: Note, What: "a"}, {Severity: Fails, What: "b"}, {Severity: Misleads, What: "c"}, {Severity: Note, What: "a"}})
	compare(t, "sorted", list, "fails: b", "misleads: c", "note: a")
	if !Failing(list) || Failing(list[1:]) {
		t.Error("what fails is not told from what does not")
	}
}

// Notes of one capture that scenes share are told once; what misleads is told for each.
func TestGrouped(t *testing.T) {
	note := func(scene, capture, evidence string) Finding {
		return Finding{Severity: Note, What: "the picture is enlarged", Scene: scene, Capture: capture, Evidence: evidence}
	}
	worse := Finding{Severity: Misleads, What: "black", Scene: "a", Capture: "alder"}
	other := worse
	other.Scene = "b"
	machine := Finding{Severity: Note, What: "this machine"}
	compare(t, "grouped", Grouped([]Finding{worse, other, note("a", "alder", "2x"), note("a", "alder", "3x"), note("b", "alder", "3x"), note("b", "birch", "3x"), note("c", "alder", "2x"), machine}),
		"misleads: scene a, capture alder: black", "misleads: scene b, capture alder: black",
		"note: scene a, capture alder: the picture is enlarged (2x; also in b, c)", "note: scene b, capture birch: the picture is enlarged (3x)",
		"note: this machine")
}
