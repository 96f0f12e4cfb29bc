package render

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

// manifestName is the manifest's, in the output folder.
const manifestName = "manifest.json"

// largestManifest bounds what is read of one: many times what the most scenes that a
// comparison file may have come to.
const largestManifest = 256 << 20

// manifestVersion is the version of manifest.json's shape.
const manifestVersion = 1

// manifest is the record, beside the clips, of how each was made. It is what
// tells a later batch which clips are up to date.
type manifest struct {
	path string
	mu   sync.Mutex

	Version int              `json:"version"`
	Program string           `json:"program"`
	Title   string           `json:"title,omitempty"` // of the comparison file
	File    string           `json:"comparison"`
	SHA256  string           `json:"comparison_sha256"`
	Scenes  map[string]entry `json:"scenes"`

	// Relative is the comparison file as seen from the manifest's folder; "" on
	// another drive.
	Relative string               `json:"comparison_relative,omitempty"`
	Reels    map[string]reelEntry `json:"reels,omitempty"` // by their names, as seen from here
}

// reelEntry is a reel's record.
type reelEntry struct {
	Fingerprint string            `json:"fingerprint"` // of the clips, in their order, and of its chapters
	Rendered    time.Time         `json:"rendered"`
	Output      output            `json:"output"`
	Sound       deliver.ReelSound `json:"sound"`
	Scenes      []string          `json:"scenes"`
	Record      reelRecord        `json:"record"` // as the reel carries it
}

// nameOf is a file's name as seen from the manifest's folder.
func (m *manifest) nameOf(file string) string {
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

// entry is one clip's record.
type entry struct {
	ID          string    `json:"-"`
	Fingerprint string    `json:"fingerprint"`
	Program     string    `json:"program"`
	Rendered    time.Time `json:"rendered"`
	Seconds     float64   `json:"seconds_taken"`
	Output      output    `json:"output"`
	Inputs      []input   `json:"inputs"`
	Arguments   []string  `json:"ffmpeg_arguments"`
	Warnings    []string  `json:"warnings,omitempty"`
	Record      *Record   `json:"record,omitempty"` // as the clip carries it, if it can

	title, comparison, sha256, relative string
}

// output is the clip as found on disk and as probed.
type output struct {
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
	Loudness *loudness `json:"loudness,omitempty"`      // where the clip was brought to one
}

// loudness is what was measured of a finished clip.
type loudness struct {
	Gain       float64 `json:"gain_db"`         // by which the sound was changed
	Integrated float64 `json:"integrated_lufs"` // ITU-R BS.1770
	TruePeak   float64 `json:"true_peak_dbtp"`
}

// openManifest reads the manifest, or starts a new one where there is none or
// where the one there is of no use: it only ever saves work.
func openManifest(path string) (*manifest, error) {
	m := &manifest{path: path, Version: manifestVersion, Scenes: map[string]entry{}}
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
			Hint: "choose another output folder"}
	}
	read := manifest{path: path}
	if json.Unmarshal(b, &read) != nil || read.Version != manifestVersion || read.Scenes == nil {
		return m, nil
	}
	m.Scenes, m.Reels, m.Relative = read.Scenes, read.Reels, read.Relative
	return m, nil
}

// upToDate reports whether the clip that the manifest records is still there,
// untouched, and made from what is there now.
func (m *manifest) upToDate(id, fingerprint, out string) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.Scenes[id]
	if !ok || e.Fingerprint != fingerprint || e.Output.File != filepath.Base(out) {
		return false
	}
	bytes, modified, err := onDisk(out)
	return err == nil && bytes == e.Output.Bytes && modified.Equal(e.Output.Modified)
}

// record adds a clip and writes the manifest at once, so that a batch that is
// interrupted has lost nothing.
func (m *manifest) record(e entry) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.Scenes[e.ID] = e
	m.Program, m.Title, m.File, m.SHA256, m.Relative = e.Program, e.title, e.comparison, e.sha256, e.relative
	return m.write()
}

// write writes the manifest as it is.
func (m *manifest) write() error {
	b, err := encode(m)
	if err != nil {
		return fmt.Errorf("render: manifest: %w", err)
	}
	return scratch.WriteBytes(m.path, b)
}

// entry describes a clip that has just been rendered.
func (p *Project) entry(s *comparison.Scene, mark string, r Result) entry {
	e := entry{
		ID: s.ID, Fingerprint: mark, Program: "fairframe " + Version(),
		Rendered: time.Now().UTC().Truncate(time.Second),
		Seconds:  r.Took.Seconds(), Inputs: p.describeInputs(s, r.record), Record: &r.record,
		Arguments: r.rendered.Arguments, Warnings: slices.Clone(r.Warnings),
		title: p.File.Title, comparison: filepath.ToSlash(p.File.Path), sha256: p.digest(),
		relative: p.relative(),
	}
	for _, t := range r.Tolerated {
		e.Warnings = append(e.Warnings, t.String())
	}
	e.Output = describeOutput(r.Out, r.rendered.Clip, r.Length, r.rendered.Digests)
	e.Output.Gain = r.rendered.Gain
	if l := r.rendered.Loudness; l != nil && !math.IsInf(l.Integrated, 0) && !math.IsInf(l.TruePeak, 0) {
		e.Output.Loudness = &loudness{r.rendered.Gain, l.Integrated, l.TruePeak}
	}
	return e
}

// relative is the comparison file as seen from the output folder.
func (p *Project) relative() string {
	from, err1 := filepath.Abs(p.File.Output.Folder)
	to, err2 := filepath.Abs(p.File.Path)
	if err1 != nil || err2 != nil {
		return ""
	}
	rel, err := filepath.Rel(from, to)
	if err != nil {
		return ""
	}
	return filepath.ToSlash(rel)
}

// describeOutput tells of a finished file.
func describeOutput(path string, clip media.Capture, length time.Duration, d deliver.Digests) output {
	o := output{File: filepath.Base(path), VideoMD5: d.Video, SoundMD5: d.Sound, Width: clip.Size.X,
		Height: clip.Size.Y, Rate: clip.Rate.String(),
		Frames: clip.Frames, Seconds: length.Seconds(), Codec: clip.Codec, Pixels: clip.PixFmt,
		Colour: clip.Colour.Matrix, Transfer: clip.Colour.Transfer, Range: "tv", Sound: clip.Audio}
	if clip.Colour.Full {
		o.Range = "pc"
	}
	if bytes, modified, err := onDisk(path); err == nil {
		o.Bytes, o.Modified = bytes, modified
	}
	if digest, err := digestOfOutput(path); err == nil {
		o.SHA256 = digest
	}
	return o
}
