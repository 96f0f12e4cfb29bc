// Command ffmpegs runs the tests with each ffmpeg that is supported, and renders one set
// of captures with each and compares the clips. Every version lives in a Debian root of
// its own, which debootstrap makes once. Go, its caches and this checkout are bound into
// it, so that nothing has to be installed there but ffmpeg.
//
// It exits with 0 if all passed, with 1 if something failed, and with 3 if a version was
// left out and nothing failed.
package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"
)

// releases are the Debian releases whose ffmpeg is tried; README.md's table lists the
// versions.
var releases = []string{"bookworm", "trixie", "sid"}

// quickly are the tests that --quick runs: bars of colour, a clip of each delivery, short
// clips.
var quickly = [][]string{
	{"./render/media/deliver", "-run", "^(TestBarsPassUnchanged|TestDeliveries|TestOverlays|TestLoops|TestLengths)$"},
}

func main() {
	pflag.Usage = func() {
		fmt.Fprintf(os.Stderr, `usage: sh testdata/ffmpegs.sh [flags] [-- arguments of go test]

As root on Debian it runs the tests in a root for each of %s.
The roots are made once and kept in $FAIRFRAME_ROOTS, or else in the user's cache folder.

%s`, strings.Join(releases, ", "), pflag.CommandLine.FlagUsages())
	}
	only := pflag.StringSlice("only", releases, "try only these `releases`")
	quick := pflag.Bool("quick", false, "run a few minutes' worth of tests")
	prepare := pflag.Bool("prepare", false, "make the roots and run nothing")
	pflag.CommandLine.SetInterspersed(false)
	pflag.Parse()
	for _, name := range *only {
		if !slices.Contains(releases, name) {
			fmt.Fprintf(os.Stderr, "error: no release is named %q\nhint: %s\n", name, strings.Join(releases, ", "))
			os.Exit(2)
		}
	}
	code, err := run(*only, *quick, *prepare, pflag.Args())
	if err != nil {
		fmt.Fprintln(os.Stderr, "error:", err)
	}
	os.Exit(code)
}

// run tries the releases and returns the exit code.
func run(only []string, quick, prepare bool, arguments []string) (int, error) {
	rows := make([]row, len(only))
	var ready []int
	roots, err := openRoots()
	if err != nil {
		return 1, err
	}
	for i, name := range only {
		rows[i].release = name
		if rows[i].left = roots.prepare(name); rows[i].left == "" {
			rows[i].version = roots.version(name)
			ready = append(ready, i)
		}
	}
	if prepare {
		printTable(os.Stdout, rows)
		return exitCode(rows), nil
	}
	sets := [][]string{append([]string{"./..."}, arguments...)}
	switch {
	case len(arguments) > 0 && quick:
		return 2, fmt.Errorf("--quick chooses the tests itself")
	case len(arguments) > 0 && slices.ContainsFunc(arguments, isPackage):
		sets = [][]string{arguments}
	case quick:
		sets = quickly
	}
	work, err := os.MkdirTemp("", "fairframe-ffmpegs-")
	if err != nil {
		return 1, err
	}
	defer os.RemoveAll(work)
	for _, i := range ready {
		for _, set := range sets {
			if err := roots.test(&rows[i], filepath.Join(work, rows[i].release), set); err != nil {
				return 1, err
			}
		}
	}
	if len(arguments) == 0 && len(ready) > 0 {
		if err := roots.pictures(rows, ready, work, quick); err != nil {
			return 1, err
		}
	}
	printTable(os.Stdout, rows)
	return exitCode(rows), nil
}

// isPackage reports whether an argument of go test names packages of this module.
func isPackage(argument string) bool { return strings.HasPrefix(argument, "./") }
