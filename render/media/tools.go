package media

import (
	"context"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Tools are the two programs that do the decoding and encoding. The zero value
// is of no use; see Find.
type Tools struct {
	FFmpeg  string // path of ffmpeg
	FFprobe string // path of ffprobe, beside it

	// Trace, if set, is told of each command before it is run. It may be called
	// from several goroutines.
	Trace func(program string, args []string)

	about    about
	landings landings
	suspects suspects
}

// about is what ffmpeg says of itself. It is asked once: starting it costs more
// than decoding a short clip.
type about struct {
	mu       sync.Mutex
	version  string // "": not asked yet
	encoders []string
}

// oldest is the first ffmpeg that has every option used here (-fps_mode).
const oldestMajor, oldestMinor = 5, 1

// Find looks for ffmpeg and its ffprobe. An empty name searches PATH; anything
// else names the ffmpeg program, whose ffprobe is looked for beside it.
func Find(ffmpeg string) (*Tools, error) {
	if ffmpeg == "" {
		ffmpeg = "ffmpeg"
	}
	path, err := exec.LookPath(ffmpeg)
	if err != nil {
		return nil, missing("ffmpeg", ffmpeg)
	}
	probe := "ffprobe"
	if strings.ContainsAny(ffmpeg, `/\`) {
		probe = filepath.Join(filepath.Dir(path), "ffprobe")
	}
	probePath, err := exec.LookPath(probe)
	if err != nil {
		return nil, missing("ffprobe", probe)
	}
	return &Tools{FFmpeg: path, FFprobe: probePath}, nil
}

func missing(program, name string) error {
	return &Error{
		Msg:  fmt.Sprintf("media: %s not found (looked for %q)", program, name),
		Hint: InstallHint(),
	}
}

// InstallHint says how ffmpeg is installed on this system.
func InstallHint() string {
	switch runtime.GOOS {
	case "windows":
		return "install it with: winget install ffmpeg   (or name it with --ffmpeg PATH)"
	case "darwin":
		return "install it with: brew install ffmpeg   (or name it with --ffmpeg PATH)"
	default:
		return "install it with your package manager, for example: apt-get install ffmpeg   (or name it with --ffmpeg PATH)"
	}
}

var versionLine = regexp.MustCompile(`(?m)^(?:\[info\] )?ffmpeg version (\S+)`)

// Version asks ffmpeg for its version and returns it as it names itself. An
// ffmpeg that is older than 5.1 is an error.
func (t *Tools) Version(ctx context.Context) (string, error) {
	version, _, err := t.ask(ctx)
	return version, err
}

// Encoders returns the names of the encoders that ffmpeg has.
func (t *Tools) Encoders(ctx context.Context) ([]string, error) {
	_, encoders, err := t.ask(ctx)
	return encoders, err
}

// ask has ffmpeg name its version, on its first line, and the encoders that it has.
func (t *Tools) ask(ctx context.Context) (version string, encoders []string, err error) {
	t.about.mu.Lock()
	defer t.about.mu.Unlock()
	if t.about.version != "" {
		return t.about.version, t.about.encoders, nil
	}
	var out, banner strings.Builder
	err = t.Run(ctx, Process{Args: []string{"-v", "info", "-encoders"}, Stdout: ReadInto(&out),
		Line: func(line string) { fmt.Fprintln(&banner, line) }})
	if err != nil {
		return "", nil, err
	}
	m := versionLine.FindStringSubmatch(banner.String())
	if m == nil {
		return "", nil, &Error{Msg: fmt.Sprintf("media: %q does not say that it is ffmpeg", t.FFmpeg), Hint: InstallHint()}
	}
	if err := checkVersion(m[1]); err != nil {
		return "", nil, err
	}
	for line := range strings.Lines(out.String()) {
		if f := strings.Fields(line); len(f) > 1 {
			encoders = append(encoders, f[1])
		}
	}
	t.about.version, t.about.encoders = m[1], encoders
	return m[1], encoders, nil
}

var numbered = regexp.MustCompile(`^n?(\d+)\.(\d+)`)

// Release returns the numbers of a release's version. A build from the repository
// ("N-1234-g…", a date) names no release; ok is false.
func Release(version string) (major, minor int, ok bool) {
	m := numbered.FindStringSubmatch(version)
	if m == nil {
		return 0, 0, false
	}
	major, err1 := strconv.Atoi(m[1])
	minor, err2 := strconv.Atoi(m[2])
	return major, minor, errors.Join(err1, err2) == nil
}

// checkVersion refuses what is too old. What names no release is taken at its word.
func checkVersion(v string) error {
	major, minor, ok := Release(v)
	if ok && (major < oldestMajor || major == oldestMajor && minor < oldestMinor) {
		return &Error{
			Msg:  fmt.Sprintf("media: ffmpeg %s is too old (needs %d.%d or newer)", v, oldestMajor, oldestMinor),
			Hint: InstallHint(),
		}
	}
	return nil
}

// Tried are the releases of ffmpeg with which all tests are run.
func Tried() []string { return []string{"5.1", "7.1", "9.0"} }

// WasTried reports whether a version of ffmpeg is of a release that was tried.
func WasTried(version string) bool {
	major, minor, ok := Release(version)
	return ok && slices.Contains(Tried(), fmt.Sprintf("%d.%d", major, minor))
}
