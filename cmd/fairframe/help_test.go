package main

import (
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

// flagsOf returns the flags that a command declares.
func flagsOf(c command) *pflag.FlagSet {
	flags := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	c.setup(flags)
	return flags
}

// helpOf returns what the program prints as help on a command or a topic; without
// a name, the list of them.
func helpOf(t *testing.T, name string) string {
	t.Helper()
	var out, errs strings.Builder
	if code := run(t.Context(), strings.Fields("help "+name), &out, &errs); code != exitDone || errs.Len() > 0 {
		t.Fatalf("help %s: exit code %d, %s", name, code, &errs)
	}
	return out.String()
}

// TestHelpNamesEveryFlag: no flag, of one command or of all, is missing from a
// command's help, and each says what it is for.
func TestHelpNamesEveryFlag(t *testing.T) {
	for _, c := range commands() {
		text := helpOf(t, c.name)
		if !strings.Contains(text, "usage: fairframe "+c.name+" "+c.operands+"\n") {
			t.Errorf("help %s has no usage line:\n%s", c.name, text)
		}
		names := []string{"quiet", "verbose", "ffmpeg"}
		flagsOf(c).VisitAll(func(f *pflag.Flag) {
			names = append(names, f.Name)
			if f.Usage == "" || f.Hidden {
				t.Errorf("flag --%s of %s is not explained", f.Name, c.name)
			}
		})
		for _, name := range names {
			if !strings.Contains(text, "--"+name+" ") {
				t.Errorf("help %s lacks --%s", c.name, name)
			}
		}
	}
}

// TestHelpFits keeps help readable on a terminal of 100 columns.
func TestHelpFits(t *testing.T) {
	for _, c := range commands() {
		for _, line := range strings.Split(helpOf(t, c.name), "\n") {
			if n := len([]rune(line)); n > 100 {
				t.Errorf("help %s: a line of %d characters: %s", c.name, n, line)
			}
		}
	}
}
