// Package record says what a clip was made from. One list of a scene's inputs serves
// the record that a clip carries, the fingerprint by which a batch knows what is up
// to date, and verify, which compares a clip with the files at hand.
package record

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media"
)

// version is the version of the record's shape.
const version = 1

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

// Source is one file that a clip was made from.
type Source struct {
	Role   string `json:"role"` // "capture KEY", "pacing KEY", "font text" or "font bold"
	File   string `json:"file"` // as the comparison file writes it; of an absolute path the name alone
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256,omitzero"`      // of all that is in it: logs and fonts; of a measured log, of what it was made from
	Ends   string `json:"sha256_ends,omitzero"` // of the first and the last MiB: captures

	changed string // when a capture last was; a copy of it is the same capture, so the record leaves it out
}

// Input is a file that a scene is made from.
type Input struct {
	Role string // as in Source
	Path string

	owner   string // what an error calls it
	written string // in the comparison file
	capture bool
	unused  bool // nothing in the scene shows it
	kept    bool // a measured log, which is there only once the scene was rendered
}

// inputs are the files of a scene, those of its captures first.
func inputs(f *comparison.File, s *comparison.Scene) []Input {
	var list []Input
	paced := s.Deck.Place != comparison.DeckNone || s.Summary > 0
	for _, key := range s.Captures {
		c, ok := f.Capture(key)
		if !ok {
			continue
		}
		video, log := c.Written()
		owner := "capture " + key
		list = append(list, Input{Role: owner, Path: c.Video, owner: owner, written: video, capture: true})
		path := c.Pacing.File
		if c.Pacing.Measure {
			path = c.Pacing.Log
		}
		if path != "" {
			list = append(list, Input{Role: "pacing " + key, Path: path, owner: owner, written: log,
				unused: !paced, kept: c.Pacing.Measure})
		}
	}
	text, bold := f.Fonts.Written()
	for _, one := range []Input{{Role: "font text", Path: f.Fonts.Text, written: text},
		{Role: "font bold", Path: f.Fonts.Bold, written: bold}} {
		if one.Path != "" {
			one.owner = one.Role
			list = append(list, one)
		}
	}
	return list
}

// Inputs are the files that a scene's clip is made from.
func Inputs(f *comparison.File, s *comparison.Scene) []Input {
	return slices.DeleteFunc(inputs(f, s), func(one Input) bool { return one.unused })
}

// Overwrites reports whether a file is one that the scenes name, or the comparison file
// itself: those are never overwritten.
func Overwrites(out string, f *comparison.File, scenes ...*comparison.Scene) bool {
	for _, s := range scenes {
		if slices.ContainsFunc(inputs(f, s), func(in Input) bool { return media.SameFile(in.Path, out) }) {
			return true
		}
	}
	return media.SameFile(f.Path, out)
}

// Missing says what becomes of inputs that are not there.
type Missing int

// Ways to treat inputs that are not there.
const (
	Refuse  Missing = iota // each is an error
	Measure                // a log that is still to be measured is left out, others are errors
	LeaveOut
)

// Of works out what a scene's clip would be made from. ffmpeg is its version.
func Of(known *Files, f *comparison.File, s *comparison.Scene, ffmpeg string, m Missing) (Record, error) {
	r := Record{Version: version, Program: "fairframe " + Version(), FFmpeg: ffmpeg,
		Comparison: filepath.Base(f.Path), SHA256: Digest(known, f), Scene: s.ID, Settings: f.Settings(s)}
	var err error
	if r.Build, err = build(known); err != nil {
		return Record{}, err
	}
	for i, key := range s.Captures {
		place := slices.IndexFunc(f.Captures, func(c comparison.Capture) bool { return c.Key == key })
		if place < 0 {
			return Record{}, fmt.Errorf("scene %s: no capture %q", s.ID, key)
		}
		// A capture's colour depends on the captures before it in the file.
		style := deck.StyleOf(place, len(f.Captures))
		if style == 0 {
			style = i + 1
		}
		r.Settings["captures."+key+".style"] = strconv.Itoa(style)
	}
	for _, in := range Inputs(f, s) {
		if m == Measure && in.kept {
			if _, err := os.Stat(in.Path); os.IsNotExist(err) {
				continue
			}
		}
		one, err := in.source(known)
		switch {
		case err == nil:
			r.Sources = append(r.Sources, one)
		case m != LeaveOut:
			return Record{}, err
		}
	}
	return r, nil
}

// Digest is that of the comparison file as it lies on disk; "" when it is not there.
func Digest(known *Files, f *comparison.File) string {
	digest, err := known.Content(f.Path)
	if err != nil {
		return ""
	}
	return digest
}

// Fingerprint is a digest of everything that can change a scene's clip: what the
// record holds of its making, and the very program and ffmpeg, by its path, size and
// time: to ask it for its version takes too long. A clip whose fingerprint is
// unchanged is up to date.
func (r Record) Fingerprint(known *Files, ffmpeg string) (string, error) {
	self, err := os.Executable()
	if err != nil {
		return "", fmt.Errorf("record: %w", err)
	}
	program, err := known.Content(self)
	if err != nil {
		return "", err
	}
	tool, err := known.Stamp(ffmpeg)
	if err != nil {
		return "", err
	}
	// What other scenes the file has changes no clip, and the rest follows from what
	// is here.
	r.FFmpeg, r.Comparison, r.SHA256, r.Tolerated, r.Doubt = "", "", "", nil, nil
	h := sha256.New()
	fmt.Fprintf(h, "%s\n%s\n%s\n", r, program, tool)
	for _, one := range r.Sources {
		fmt.Fprintf(h, "%q %q\n", one.Role, one.changed)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// String is the record as a clip carries it.
func (r Record) String() string {
	b, err := json.Marshal(r)
	if err != nil {
		panic(err) // the types above hold nothing that JSON lacks
	}
	return string(b)
}

// source identifies a file.
func (in Input) source(known *Files) (Source, error) {
	one := Source{Role: in.Role, File: comparison.Portable(in.written)}
	if in.capture {
		identity, err := known.Capture(in.Path)
		if err != nil {
			return one, fmt.Errorf("%s: %w", in.owner, err)
		}
		// Size, time and digest.
		parts := strings.Fields(identity)
		one.changed, one.Ends = parts[1], parts[2]
		one.Bytes, err = strconv.ParseInt(parts[0], 10, 64)
		return one, err
	}
	if in.kept {
		if digest, ok := measuredDigest(in.Path); ok {
			one.SHA256 = digest
			return one, nil
		}
	}
	digest, err := known.Content(in.Path)
	if err != nil {
		return one, fmt.Errorf("%s: %w", in.owner, err)
	}
	one.SHA256 = digest
	info, err := os.Stat(in.Path)
	if err == nil {
		one.Bytes = info.Size()
	}
	return one, err
}
