package record

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/scratch"
)

// RecordsName is the folder beside the manifest in which shards of a batch leave a record
// of each clip, in a file of its own. Programs that render into one folder at once, on
// whatever machines, so never lose each other's records. The manifest is made from them.
const RecordsName = "records"

// apart is one clip's record in its own file.
type apart struct {
	Version int    `json:"version"`
	Scene   string `json:"scene"`
	Entry   Entry  `json:"entry"`
}

func (m *Manifest) recordsFolder() string { return filepath.Join(filepath.Dir(m.path), RecordsName) }

// Keep writes the record of a clip, and leaves the manifest alone. It appears whole or not
// at all; of two programs the last one's stays.
func (m *Manifest) Keep(e Entry) error {
	if err := os.MkdirAll(m.recordsFolder(), 0o755); err != nil {
		return &finding.Error{Msg: fmt.Sprintf("the folder of records cannot be made: %v", scratch.Cause(err)),
			Hint: "set another output: folder:"}
	}
	b, err := json.MarshalIndent(apart{manifestVersion, e.ID, e}, "", "  ")
	if err != nil {
		return fmt.Errorf("record: %w", err)
	}
	return scratch.WriteBytes(filepath.Join(m.recordsFolder(), e.ID+".json"), append(b, '\n'))
}

// readApart takes in the records that have files of their own. One that cannot be read
// only costs another rendering.
func (m *Manifest) readApart() {
	list, err := os.ReadDir(m.recordsFolder())
	if err != nil {
		return
	}
	for _, one := range list {
		id, ok := strings.CutSuffix(one.Name(), ".json")
		if !ok {
			continue
		}
		f, err := scratch.Open(filepath.Join(m.recordsFolder(), one.Name()))
		if err != nil {
			continue
		}
		var a apart
		b, err := io.ReadAll(io.LimitReader(f, largestManifest))
		f.Close()
		if err == nil && json.Unmarshal(b, &a) == nil && a.Version == manifestVersion && a.Scene == id {
			a.Entry.ID = id
			m.Scenes[id] = a.Entry
		}
	}
}

// Merge writes the manifest from the records that are there.
func (m *Manifest) Merge(known *Files, f *comparison.File) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.readApart()
	return m.write(known, f)
}

// Stale says why the clip of a scene is not up to date; "": it is.
func (m *Manifest) Stale(known *Files, f *comparison.File, s *comparison.Scene, fingerprint, out string) string {
	if m.UpToDate(s.ID, fingerprint, out) {
		return ""
	}
	m.mu.Lock()
	e, ok := m.Scenes[s.ID]
	m.mu.Unlock()
	bytes, modified, err := OnDisk(out)
	switch {
	case !ok && err != nil:
		return "not rendered yet"
	case !ok:
		return "the clip has no record"
	case err != nil || e.Output.File != filepath.Base(out):
		return "the clip is not there"
	case bytes != e.Output.Bytes || !modified.Equal(e.Output.Modified):
		return "the clip was changed"
	}
	if e.Record != nil {
		var v Verification
		if v.against(known, f, *e.Record, e.Record.FFmpeg, "") == nil {
			for _, one := range v.Findings {
				if one.Verdict == Differs {
					return one.What + " has changed"
				}
			}
		}
	}
	return "ffmpeg or the time of a capture has changed"
}
