package record

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/scratch"
)

// ManifestName is the manifest's, in the Output folder.
const ManifestName = "manifest.json"

// largestManifest bounds what is read of one: many times what the most scenes that a
// comparison file may have come to.
const largestManifest = 256 << 20

// manifestVersion is the version of manifest.json's shape.
const manifestVersion = 1

// Manifest is the record, beside the clips, of how each was made. It is what
// tells a later batch which clips are up to date. Where shards left records of their own,
// these hold, and the file is made from them.
type Manifest struct {
	path string
	mu   sync.Mutex

	Version int              `json:"version"`
	Program string           `json:"program"`
	Title   string           `json:"title,omitempty"` // of the comparison file
	File    string           `json:"comparison"`
	SHA256  string           `json:"comparison_sha256"`
	Scenes  map[string]Entry `json:"scenes"`

	// Relative is the comparison file as seen from the manifest's folder; "" on
	// another drive.
	Relative string               `json:"comparison_relative,omitempty"`
	Reels    map[string]ReelEntry `json:"reels,omitempty"` // by their names, as seen from here
}

// ReelEntry is a reel's record.
type ReelEntry struct {
	Fingerprint string            `json:"fingerprint"` // of the clips, in their order, and of its chapters
	Rendered    time.Time         `json:"rendered"`
	Output      Output            `json:"output"`
	Sound       deliver.ReelSound `json:"sound"`
	Scenes      []string          `json:"scenes"`
	Record      ReelRecord        `json:"record"` // as the reel carries it
}

// NameOf is a file's name as seen from the manifest's folder.
func (m *Manifest) NameOf(file string) string {
	folder := filepath.Dir(file)
	if sameFolder(folder, filepath.Dir(m.path)) {
		return filepath.Base(file)
	}
	from, err1 := filepath.Abs(filepath.Dir(m.path))
	to, err2 := filepath.Abs(file)
	rel, err3 := filepath.Rel(from, to)
	if err1 != nil || err2 != nil || err3 != nil {
		return filepath.Base(file)
	}
	return filepath.ToSlash(rel)
}

// Entry is one clip's record.
type Entry struct {
	ID          string      `json:"-"`
	Fingerprint string      `json:"fingerprint"`
	Program     string      `json:"program"`
	Rendered    time.Time   `json:"rendered"`
	Seconds     float64     `json:"seconds_taken"`
	Output      Output      `json:"output"`
	Inputs      []InputFile `json:"inputs"`
	Arguments   []string    `json:"ffmpeg_arguments"`
	Warnings    []string    `json:"warnings,omitempty"`
	Record      *Record     `json:"record,omitempty"` // as the clip carries it, if it can
}

// Output is the clip as found on disk and as probed.
type Output struct {
	File     string    `json:"file"` // relative to the manifest
	Bytes    int64     `json:"bytes"`
	SHA256   string    `json:"sha256"`
	VideoMD5 string    `json:"video_md5,omitempty"` // of all packets: the same in whatever container
	SoundMD5 string    `json:"sound_md5,omitempty"`
	Modified time.Time `json:"modified"`
	Width    int       `json:"width"`
	Height   int       `json:"height"`
	Rate     string    `json:"rate"`
	Frames   int64     `json:"frames"`
	Seconds  float64   `json:"seconds"`
	Codec    string    `json:"codec"`
	Pixels   string    `json:"pixel_format"`
	Colour   string    `json:"colour"`
	Transfer string    `json:"transfer,omitzero"`
	Range    string    `json:"range"`
	Sound    bool      `json:"sound"`
	Gain     float64   `json:"sound_gain_db,omitempty"` // by which its sound was changed
	Loudness *Loudness `json:"loudness,omitempty"`      // where the clip was brought to one
}

// Loudness is what was measured of a finished clip.
type Loudness struct {
	Gain       float64 `json:"gain_db"`         // by which the sound was changed
	Integrated float64 `json:"integrated_lufs"` // ITU-R BS.1770
	TruePeak   float64 `json:"true_peak_dbtp"`
}

// OpenManifest reads the manifest, or starts a new one where there is none or
// where the one there is of no use: it only ever saves work.
func OpenManifest(path string) (*Manifest, error) {
	m := &Manifest{path: path, Version: manifestVersion, Scenes: map[string]Entry{}}
	defer m.readApart()
	f, err := scratch.Open(path)
	if os.IsNotExist(err) {
		return m, nil
	}
	var b []byte
	if err == nil {
		defer f.Close()
		b, err = io.ReadAll(io.LimitReader(f, largestManifest))
	}
	if err != nil {
		return nil, &finding.Error{Msg: fmt.Sprintf("manifest cannot be read: %s: %v", path, scratch.Cause(err)),
			Hint: "choose another Output folder"}
	}
	read := Manifest{path: path}
	if json.Unmarshal(b, &read) != nil || read.Version != manifestVersion || read.Scenes == nil {
		return m, nil
	}
	m.Scenes, m.Reels, m.Relative = read.Scenes, read.Reels, read.Relative
	return m, nil
}

// UpToDate reports whether the clip that the manifest records is still there,
// untouched, and made from what is there now.
func (m *Manifest) UpToDate(id, fingerprint, out string) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.Scenes[id]
	if !ok || e.Fingerprint != fingerprint || e.Output.File != filepath.Base(out) {
		return false
	}
	bytes, modified, err := OnDisk(out)
	return err == nil && bytes == e.Output.Bytes && modified.Equal(e.Output.Modified)
}

// Record adds a clip and writes the manifest at once, so that a batch that is
// interrupted has lost nothing.
func (m *Manifest) Record(known *Files, f *comparison.File, e Entry) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, err := os.Stat(m.recordsFolder()); err == nil {
		if err := m.Keep(e); err != nil {
			return err
		}
	}
	m.Scenes[e.ID] = e
	return m.write(known, f)
}

// RecordReel adds a reel, whose name is as seen from the manifest.
func (m *Manifest) RecordReel(known *Files, f *comparison.File, e ReelEntry) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.Reels == nil {
		m.Reels = map[string]ReelEntry{}
	}
	m.Reels[e.Output.File] = e
	return m.write(known, f)
}

// Tolerated is the damage that a recorded clip shows.
func (m *Manifest) Tolerated(id string) []Tolerated {
	m.mu.Lock()
	defer m.mu.Unlock()
	if e, ok := m.Scenes[id]; ok && e.Record != nil {
		return e.Record.Tolerated
	}
	return nil
}

// write writes the manifest, and of which comparison file it is.
func (m *Manifest) write(known *Files, f *comparison.File) error {
	m.Program, m.Title, m.File = "fairframe "+Version(), f.Title, filepath.ToSlash(f.Path)
	m.SHA256, m.Relative = Digest(known, f), relative(f)
	b, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return fmt.Errorf("record: manifest: %w", err)
	}
	return scratch.WriteBytes(m.path, append(b, '\n'))
}

// relative is the comparison file as seen from the output folder.
func relative(f *comparison.File) string {
	from, err1 := filepath.Abs(f.Output.Folder)
	to, err2 := filepath.Abs(f.Path)
	if err1 != nil || err2 != nil {
		return ""
	}
	rel, err := filepath.Rel(from, to)
	if err != nil {
		return ""
	}
	return filepath.ToSlash(rel)
}

// Made is a clip that has just been rendered.
type Made struct {
	Out         string
	Fingerprint string
	Record      Record
	Rendered    deliver.Rendered
	Length      time.Duration // of the clip
	Took        time.Duration
	Warnings    []string
}

// NewEntry describes a clip.
func NewEntry(f *comparison.File, s *comparison.Scene, made Made) Entry {
	e := Entry{
		ID: s.ID, Fingerprint: made.Fingerprint, Program: made.Record.Program,
		Rendered: time.Now().UTC().Truncate(time.Second),
		Seconds:  made.Took.Seconds(), Inputs: inputFiles(f, s, made.Record), Record: &made.Record,
		Arguments: made.Rendered.Arguments, Warnings: slices.Clone(made.Warnings),
	}
	for _, t := range made.Record.Tolerated {
		e.Warnings = append(e.Warnings, t.String())
	}
	e.Output = NewOutput(made.Out, made.Rendered.Clip, made.Length, made.Rendered.Digests)
	e.Output.Gain = made.Rendered.Gain
	if l := made.Rendered.Loudness; l != nil && !math.IsInf(l.Integrated, 0) && !math.IsInf(l.TruePeak, 0) {
		e.Output.Loudness = &Loudness{made.Rendered.Gain, l.Integrated, l.TruePeak}
	}
	return e
}

// InputFile is one file that a clip was made from.
type InputFile struct {
	Role     string    `json:"role"` // as in Source
	Path     string    `json:"path"`
	Bytes    int64     `json:"bytes"`
	Modified time.Time `json:"modified"`
	SHA256   string    `json:"sha256,omitempty"`      // of a log or a font
	Ends     string    `json:"sha256_ends,omitempty"` // of a capture's first and last MiB
}

func inputFiles(f *comparison.File, s *comparison.Scene, r Record) []InputFile {
	var list []InputFile
	for _, in := range Inputs(f, s) {
		info, err := os.Stat(in.Path)
		if err != nil {
			continue
		}
		one := InputFile{Role: in.Role, Path: filepath.ToSlash(in.Path), Bytes: info.Size(),
			Modified: info.ModTime().UTC()}
		for _, known := range r.Sources {
			if known.Role == in.Role {
				one.SHA256, one.Ends = known.SHA256, known.Ends
			}
		}
		list = append(list, one)
	}
	return list
}

// NewOutput tells of a finished file.
func NewOutput(path string, clip media.Capture, length time.Duration, d deliver.Digests) Output {
	o := Output{File: filepath.Base(path), VideoMD5: d.Video, SoundMD5: d.Sound, Width: clip.Size.X,
		Height: clip.Size.Y, Rate: clip.Rate.String(),
		Frames: clip.Frames, Seconds: length.Seconds(), Codec: clip.Codec, Pixels: clip.PixFmt,
		Colour: clip.Colour.Matrix, Transfer: clip.Colour.Transfer, Range: "tv", Sound: clip.Audio}
	if clip.Colour.Full {
		o.Range = "pc"
	}
	if bytes, modified, err := OnDisk(path); err == nil {
		o.Bytes, o.Modified = bytes, modified
	}
	if digest, err := DigestOfOutput(path); err == nil {
		o.SHA256 = digest
	}
	return o
}
