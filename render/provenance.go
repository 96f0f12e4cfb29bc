package render

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"

	"fairframe/render/comparison"
)

// recordVersion is the version of the record's shape.
const recordVersion = 1

// Record says what a clip was made from. The clip carries it among its tags,
// where its container has room for that, and the manifest keeps it too. It names
// no time of rendering and no folder of the machine, so that the same files make
// the same clip to the bit, and none of them is given away.
type Record struct {
	Version int    `json:"version"`
	Program string `json:"program"` // name and version
	// of a program whose version does not tell which it is
	Build      string            `json:"build_sha256,omitzero"`
	FFmpeg     string            `json:"ffmpeg"`            // its version
	Comparison string            `json:"comparison"`        // the comparison file's name
	SHA256     string            `json:"comparison_sha256"` // of all that is in it
	Scene      string            `json:"scene"`
	Settings   map[string]string `json:"settings"` // of the scene, by name; what is off is left out
	Sources    []Source          `json:"sources"`
	Tolerated  []Tolerated       `json:"tolerated,omitempty"` // damage that the clip shows
	Doubt      []Doubt           `json:"doubt,omitempty"`     // of the pacing that the clip shows
}

// Doubt is how much of a clip rests on doubtful frames of a capture's pacing log.
type Doubt struct {
	Capture   string  `json:"capture"`
	Share     float64 `json:"share"`     // of the scene, 0 to 1
	Uncertain bool    `json:"uncertain"` // so much that the clip says so
}

// doubt is what a planned clip's record says of its pacing.
func (p *Plan) doubt() (list []Doubt) {
	for _, one := range p.paced {
		if d := one.doubt(p.Scene); d.Time > 0 {
			list = append(list, Doubt{one.Key, math.Round(d.Part()*1e4) / 1e4, d.Uncertain()})
		}
	}
	return list
}

// Source is one file that a clip was made from.
type Source struct {
	Role   string `json:"role"` // "capture KEY", "pacing KEY", "font text" or "font bold"
	File   string `json:"file"` // as the comparison file writes it; of an absolute path the name alone
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256,omitzero"`      // of all that is in it: logs and fonts
	Ends   string `json:"sha256_ends,omitzero"` // of the first and the last MiB: captures
}

// record works out a scene's record. What is not there is left out when partial
// is set, and an error otherwise.
func (p *Project) record(ctx context.Context, s *comparison.Scene, partial bool) (Record, error) {
	version, err := p.Tools.Version(ctx)
	if err != nil {
		return Record{}, err
	}
	r := Record{Version: recordVersion, Program: "fairframe " + Version(), FFmpeg: version,
		Comparison: filepath.Base(p.File.Path),
		SHA256:     p.digest(), Scene: s.ID, Settings: p.File.Settings(s)}
	if r.Build, err = p.build(); err != nil {
		return Record{}, err
	}
	for i, key := range s.Captures {
		// A capture's colour depends on the captures before it in the file.
		style := p.style(key)
		if style == 0 {
			style = i + 1
		}
		r.Settings["captures."+key+".style"] = strconv.Itoa(style)
	}
	for _, f := range p.sources(s) {
		one, err := p.source(f)
		switch {
		case err == nil:
			r.Sources = append(r.Sources, one)
		case !partial:
			return Record{}, err
		}
	}
	return r, nil
}

// String is the record as a clip carries it.
func (r Record) String() string {
	b, err := json.Marshal(r)
	if err != nil {
		panic(err) // the types above hold nothing that JSON lacks
	}
	return string(b)
}

// sourceFile is a file that a scene is made from.
type sourceFile struct {
	role    string
	path    string
	written string // in the comparison file
	capture bool
}

// sources are the files that a scene is made from, those of its captures first.
func (p *Project) sources(s *comparison.Scene) []sourceFile {
	var list []sourceFile
	paced := s.Deck.Place != comparison.DeckNone || s.Summary > 0
	for _, key := range s.Captures {
		c, ok := p.File.Capture(key)
		if !ok {
			continue
		}
		video, log := c.Written()
		list = append(list, sourceFile{"capture " + key, c.Video, video, true})
		switch {
		case !paced:
		case c.Pacing.Measure:
			list = append(list, sourceFile{"pacing " + key, c.Pacing.Log, log, false})
		case c.Pacing.File != "":
			list = append(list, sourceFile{"pacing " + key, c.Pacing.File, log, false})
		}
	}
	text, bold := p.File.Fonts.Written()
	for _, f := range []sourceFile{{"font text", p.File.Fonts.Text, text, false},
		{"font bold", p.File.Fonts.Bold, bold, false}} {
		if f.path != "" {
			list = append(list, f)
		}
	}
	return list
}

// source identifies a file.
func (p *Project) source(f sourceFile) (Source, error) {
	one := Source{Role: f.role, File: comparison.Portable(f.written)}
	if f.capture {
		identity, err := p.identify.capture(f.path)
		if err != nil {
			return one, fmt.Errorf("%s: %w", f.role, err)
		}
		// Size, time and digest. The time stays behind: a copy of a capture is the
		// same capture.
		parts := strings.Fields(identity)
		one.Ends = parts[len(parts)-1]
		one.Bytes, err = strconv.ParseInt(parts[0], 10, 64)
		return one, err
	}
	digest, err := p.identify.content(f.path)
	if err != nil {
		return one, fmt.Errorf("%s: %w", f.role, err)
	}
	one.SHA256 = digest
	info, err := os.Stat(f.path)
	if err == nil {
		one.Bytes = info.Size()
	}
	return one, err
}

// build identifies the program by its content, if its version does not: while it
// is being developed, builds differ that bear the same version.
func (p *Project) build() (string, error) {
	info, ok := debug.ReadBuildInfo()
	if ok && info.Main.Version != "" && info.Main.Version != "(devel)" &&
		!strings.Contains(info.Main.Version, "+dirty") {
		return "", nil
	}
	self, err := os.Executable()
	if err != nil {
		return "", fmt.Errorf("render: %w", err)
	}
	return p.identify.content(self)
}
