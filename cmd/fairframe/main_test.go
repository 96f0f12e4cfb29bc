package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"image"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"fairframe/render/demo"
	"fairframe/render/media"
)

// TestMain lets the test binary be three other programs: fairframe itself, for
// the scripts, and ffmpeg and ffprobe, where a failure has to be played.
func TestMain(m *testing.M) {
	name := strings.TrimSuffix(filepath.Base(os.Args[0]), ".exe")
	if name == "ffmpeg" || name == "ffprobe" {
		os.Exit(play(name, os.Getenv(failureVar), os.Args[1:]))
	}
	testscript.Main(&tests{m}, map[string]func(){"fairframe": main})
}

// tests clears the captures that tests share away.
type tests struct{ *testing.M }

func (t *tests) Run() int {
	defer func() {
		if shared.dir != "" {
			os.RemoveAll(shared.dir)
		}
	}()
	return t.M.Run()
}

// shared is the demo of smallDemo.
var shared struct {
	once sync.Once
	dir  string
	err  error
}

// smallDemo is the folder of a demo that all tests share, as small as it gets. It
// is made once, and nothing may be written there.
func smallDemo(t testing.TB) string {
	t.Helper()
	shared.once.Do(func() {
		tools, err := media.Find("")
		if err != nil {
			shared.err = fmt.Errorf("the tests need ffmpeg: %w", err)
			return
		}
		if shared.dir, shared.err = os.MkdirTemp("", "fairframe-captures-"); shared.err == nil {
			_, shared.err = demo.Write(context.Background(), tools, shared.dir, demo.Options{Length: demo.MinLength, Size: smallSize()})
		}
	})
	if shared.err != nil {
		t.Fatal(shared.err)
	}
	return shared.dir
}

var update = flag.Bool("update", false, "write what the program says into the scripts")

// ownDemo is a copy of smallDemo to write in.
func ownDemo(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(smallDemo(t))); err != nil {
		t.Fatal(err)
	}
	return dir
}

// program is fairframe itself: the test binary under that name.
func program(t testing.TB) string {
	t.Helper()
	path, err := exec.LookPath("fairframe")
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// TestScripts runs testdata/script: one file a subject, with the inputs and what
// the program says about them side by side. Beyond testscript's own commands:
//
//	exits CODE CMD …   runs a program that must end with that exit code
//	captures           puts a small demo's captures into captures/
//	failing HOW        puts programs named ffmpeg and ffprobe into failing/, which
//	                   fail in one of the ways of play
//	frames N FILE      fails unless the video FILE has N frames, decoded
//	empty DIR          fails unless DIR is there and holds nothing
//	spoil FILE N       flips bits in the second half of the video's packet N
//	edit FILE OLD NEW  replaces the one place where FILE says OLD
func TestScripts(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Fatalf("the tests need ffmpeg: %v", err)
	}
	made := smallDemo(t)
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		UpdateScripts:       *update,
		Setup: func(env *testscript.Env) error {
			env.Setenv(realVar, filepath.Dir(tools.FFmpeg))
			program, err := exec.LookPath("fairframe")
			env.Setenv("FAIRFRAME", program)
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) < 2 {
					ts.Fatalf("usage: exits CODE PROGRAM …")
				}
				err := ts.Exec(args[1], args[2:]...)
				code := 0
				if exit := (*exec.ExitError)(nil); errors.As(err, &exit) {
					code = exit.ExitCode()
				} else {
					ts.Check(err)
				}
				if fmt.Sprint(code) != args[0] {
					ts.Fatalf("exit code %d, want %s", code, args[0])
				}
			},
			"captures": func(ts *testscript.TestScript, neg bool, args []string) {
				want(ts, neg, args, 0)
				ts.Check(os.CopyFS(ts.MkAbs("captures"), os.DirFS(filepath.Join(made, "captures"))))
			},
			"failing": func(ts *testscript.TestScript, neg bool, args []string) {
				want(ts, neg, args, 1)
				ts.Check(impersonate(ts.MkAbs("failing")))
				ts.Setenv(failureVar, args[0])
			},
			"frames": func(ts *testscript.TestScript, neg bool, args []string) {
				want(ts, neg, args, 2)
				out, err := exec.Command(tools.FFprobe, "-v", "error", "-select_streams", "v:0", "-count_frames", "-show_entries", "stream=nb_read_frames", "-of", "default=nw=1:nk=1", ts.MkAbs(args[1])).Output()
				ts.Check(err)
				if n := strings.TrimSpace(string(out)); n != args[0] {
					ts.Fatalf("%s has %s frames", args[1], n)
				}
			},
			"empty": func(ts *testscript.TestScript, neg bool, args []string) {
				want(ts, neg, args, 1)
				list, err := os.ReadDir(ts.MkAbs(args[0]))
				ts.Check(err)
				if len(list) > 0 {
					ts.Fatalf("%s holds %v", args[0], list)
				}
			},
			"spoil": func(ts *testscript.TestScript, neg bool, args []string) {
				want(ts, neg, args, 2)
				ts.Check(spoil(tools, ts.MkAbs(args[0]), args[1]))
			},
			"edit": func(ts *testscript.TestScript, neg bool, args []string) {
				want(ts, neg, args, 3)
				text := ts.ReadFile(args[0])
				if strings.Count(text, args[1]) != 1 {
					ts.Fatalf("%s says %q %d times", args[0], args[1], strings.Count(text, args[1]))
				}
				ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, args[1], args[2], 1)), 0o644))
			},
		},
	})
}

// spoil flips bits in the second half of a packet of a video, counted in the order
// of the stream from 0, or in more of it: by chance a decoder takes flipped bits for
// a picture, and each version's encoder makes other bits.
func spoil(tools *media.Tools, path, packet string) error {
	out, err := exec.Command(tools.FFprobe, "-v", "error", "-select_streams", "v:0", "-show_entries", "packet=pos,size", "-of", "csv=p=0", path).Output()
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(packet)
	if err != nil {
		return err
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if n < 0 || n >= len(lines) {
		return fmt.Errorf("no packet %d among %d", n, len(lines))
	}
	var size, pos int
	if _, err := fmt.Sscanf(lines[n], "%d,%d", &size, &pos); err != nil {
		return fmt.Errorf("%q: %w", lines[n], err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	for from := size / 2; from > 16; from /= 2 {
		b := slices.Clone(whole)
		for i := pos + from; i < pos+size; i++ {
			b[i] ^= byte(i*37) | 1
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			return err
		}
		said, err := exec.Command(tools.FFmpeg, "-v", "warning", "-nostdin", "-i", path, "-map", "0:v:0", "-f", "null", "-").CombinedOutput()
		if err != nil || strings.Contains(string(said), "corrupt decoded frame") {
			return nil
		}
	}
	return fmt.Errorf("no decoder complains of packet %d of %s", n, path)
}

func want(ts *testscript.TestScript, neg bool, args []string, n int) {
	if neg || len(args) != n {
		ts.Fatalf("%d arguments, want %d and no !", len(args), n)
	}
}

// smallSize is that of the scripts' captures.
func smallSize() image.Point { return image.Pt(320, 180) }

// impersonate makes a folder in which ffmpeg and ffprobe are this test binary.
func impersonate(dir string) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	if err := os.Mkdir(dir, 0o755); errors.Is(err, fs.ErrExist) {
		return nil // done already, for another failure
	} else if err != nil {
		return err
	}
	ending := ""
	if runtime.GOOS == "windows" {
		ending = ".exe"
	}
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		path := filepath.Join(dir, name+ending)
		if os.Symlink(self, path) == nil {
			continue
		}
		if err := copyFile(path, self); err != nil {
			return err
		}
	}
	return nil
}

func copyFile(to, from string) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o755)
	if err != nil {
		return err
	}
	if _, err := io.Copy(dst, src); err != nil {
		dst.Close()
		return err
	}
	return dst.Close()
}
