package render

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"sync"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/scratch"
)

// Version is the program's version, as the build recorded it.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	version := info.Main.Version
	if version == "" || version == "(devel)" {
		version = "devel"
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" && len(s.Value) >= 12 {
				version += "-" + s.Value[:12]
			}
		}
	}
	return version
}

// fingerprint is a digest of everything that can change a scene's clip: its
// resolved settings, the captures' identity, the content of logs and fonts, the
// program and ffmpeg. A clip whose fingerprint is unchanged is up to date.
func (p *Project) fingerprint(s *comparison.Scene) (string, error) {
	h := sha256.New()
	add := func(what, value string) { fmt.Fprintf(h, "%s %d %s\n", what, len(value), value) }
	add("scene", string(p.File.Canonical(s)))
	add("version", Version())
	self, err := os.Executable()
	if err != nil {
		return "", fmt.Errorf("render: %w", err)
	}
	program, err := p.identify.content(self)
	if err != nil {
		return "", err
	}
	add("program", program)
	tool, err := p.identify.stamp(p.Tools.FFmpeg)
	if err != nil {
		return "", err
	}
	add("ffmpeg", tool)
	for i, key := range s.Captures {
		c, ok := p.File.Capture(key)
		if !ok {
			return "", fmt.Errorf("scene %s: no capture %q", s.ID, key)
		}
		// Its colour depends on the captures before it in the file, shown or not.
		style := p.style(key)
		if style == 0 {
			style = i + 1
		}
		add("style", strconv.Itoa(style))
		video, err := p.identify.capture(c.Video)
		if err != nil {
			return "", fmt.Errorf("capture %s: %w", key, err)
		}
		add("video", video)
		if s.Deck.Place == comparison.DeckNone && s.Summary == 0 || c.Pacing.File == "" {
			continue
		}
		log, err := p.identify.content(c.Pacing.File)
		if err != nil {
			return "", fmt.Errorf("capture %s: %w", key, err)
		}
		add("log", log)
	}
	for _, path := range p.fontFiles() {
		font, err := p.identify.content(path)
		if err != nil {
			return "", err
		}
		add("font", font)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// identities remembers what files are for as long as the program runs, so that
// a hundred scenes of three captures read each file once.
type identities struct {
	mu    sync.Mutex
	known map[string]string
}

func (i *identities) once(kind, path string, find func() (string, error)) (string, error) {
	i.mu.Lock()
	defer i.mu.Unlock()
	key := kind + path
	if v, ok := i.known[key]; ok {
		return v, nil
	}
	v, err := find()
	if err != nil {
		return "", err
	}
	if i.known == nil {
		i.known = map[string]string{}
	}
	i.known[key] = v
	return v, nil
}

// content identifies a file by all that is in it.
func (i *identities) content(path string) (string, error) {
	return i.once("content ", path, func() (string, error) { return digestOf(path) })
}

// digestOf is the digest of all that is in a file.
func digestOf(path string) (string, error) {
	f, err := scratch.Open(path)
	if err != nil {
		return "", missing(path, err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", fmt.Errorf("render: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// stamp identifies a program by path, size and time.
func (i *identities) stamp(path string) (string, error) {
	return i.once("stamp ", path, func() (string, error) {
		info, err := os.Stat(path)
		if err != nil {
			return "", missing(path, err)
		}
		return fmt.Sprintf("%s %d %s", path, info.Size(), info.ModTime().UTC().Format(time.RFC3339Nano)), nil
	})
}

// ends is how much of a capture's beginning and end its identity covers. Reading
// hours of video to learn that nothing changed would take longer than rendering.
const ends = 1 << 20

// capture identifies a recording by size, time, and its first and last MiB.
func (i *identities) capture(path string) (string, error) {
	return i.once("capture ", path, func() (string, error) {
		f, err := scratch.Open(path)
		if err != nil {
			return "", missing(path, err)
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil {
			return "", fmt.Errorf("render: %w", err)
		}
		h := sha256.New()
		if _, err := io.Copy(h, io.NewSectionReader(f, 0, ends)); err != nil {
			return "", fmt.Errorf("render: %w", err)
		}
		if rest := info.Size() - ends; rest > 0 {
			if _, err := io.Copy(h, io.NewSectionReader(f, max(ends, info.Size()-ends), ends)); err != nil {
				return "", fmt.Errorf("render: %w", err)
			}
		}
		return fmt.Sprintf("%d %s %s", info.Size(), info.ModTime().UTC().Format(time.RFC3339Nano),
			hex.EncodeToString(h.Sum(nil))), nil
	})
}

func missing(path string, err error) error {
	if os.IsNotExist(err) {
		return &finding.Error{Msg: fmt.Sprintf("%s does not exist", path),
			Hint: "check the path; those in a comparison file start at its own folder"}
	}
	return &finding.Error{Msg: fmt.Sprintf("%s cannot be read: %v", path, scratch.Cause(err))}
}

func (p *Project) manifestPath() string {
	return filepath.Join(p.File.Output.Folder, manifestName)
}

// digest of the comparison file as it lies on disk, for the manifest.
func (p *Project) digest() string {
	v, err := p.identify.content(p.File.Path)
	if err != nil {
		return ""
	}
	return v
}

// input describes one file that a clip was made from.
type input struct {
	Role     string    `json:"role"` // as in Source
	Path     string    `json:"path"`
	Bytes    int64     `json:"bytes"`
	Modified time.Time `json:"modified"`
	SHA256   string    `json:"sha256,omitempty"`      // of a log or a font
	Ends     string    `json:"sha256_ends,omitempty"` // of a capture's first and last MiB
}

func (p *Project) describeInputs(s *comparison.Scene, r Record) []input {
	var list []input
	for _, f := range p.sources(s) {
		info, err := os.Stat(f.path)
		if err != nil {
			continue
		}
		one := input{Role: f.role, Path: filepath.ToSlash(f.path), Bytes: info.Size(),
			Modified: info.ModTime().UTC()}
		for _, known := range r.Sources {
			if known.Role == f.role {
				one.SHA256, one.Ends = known.SHA256, known.Ends
			}
		}
		list = append(list, one)
	}
	return list
}

// encode prints a value as indented JSON with a final newline.
func encode(v any) ([]byte, error) {
	b, err := json.MarshalIndent(v, "", "  ")
	return append(b, '\n'), err
}
