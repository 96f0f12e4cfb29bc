// Package scene turns a scene and its footage into a clip. [Probe] and [Gather] read
// what a scene shows; [Plan] makes a clip of it and reads nothing.
package scene

import (
	"context"
	"os"
	"path/filepath"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure/logs"
	"fairframe/render/media"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// Project is a comparison file together with the tools that read what it names, and
// what was found out so far. It is safe for concurrent use.
type Project struct {
	File  *comparison.File
	Tools *media.Tools
	Files *record.Files // what the files are
	Logs  *logs.Keeper  // of captures whose pacing is measured
	*Cache
}

// Cache is what was found out about captures. It holds as long as they stay what they
// are.
type Cache struct {
	captures Memo[string, media.Capture] // by path
	counted  Memo[string, media.Capture] // the same, after all of their stamps were read
	usable   Memo[string, usable]        // by the encoder asked for

	// Stamps are the findings about the time stamps of a stretch.
	Stamps Memo[Stretch, []finding.Finding]
}

// Stretch is a part of a capture: the frames first to last.
type Stretch struct {
	Path        string
	First, Last int64
}

// Open reads the comparison file. Tools may be nil when nothing will be rendered.
func Open(path string, tools *media.Tools) (*Project, error) {
	f, err := comparison.Read(path)
	if err != nil {
		return nil, err
	}
	scratch.Sweep(os.TempDir()) // what a killed run left there, of whatever scene
	if _, err := Delivery(f); err != nil {
		return nil, err
	}
	files := &record.Files{}
	return &Project{File: f, Tools: tools, Files: files, Cache: &Cache{},
		Logs: &logs.Keeper{Tools: tools, Files: files}}, nil
}

// Manifest is where the clips of the project are recorded.
func (p *Project) Manifest() string {
	return filepath.Join(p.File.Output.Folder, record.ManifestName)
}

// Capture probes a recording, once for all scenes.
func (p *Project) Capture(ctx context.Context, path string) (media.Capture, error) {
	return p.captures.Get(ctx, path, func() (media.Capture, error) { return p.Tools.Probe(ctx, path) })
}

// Reread probes a capture anew by all of its stamps. It reports whether it turned out
// not to keep to the rate that its container names.
func (p *Project) Reread(ctx context.Context, c media.Capture) (bool, error) {
	if c.Variable() {
		return false, nil
	}
	now, err := p.Tools.Reread(ctx, c.Path)
	if err != nil || !now.Variable() {
		return false, err
	}
	p.captures.Forget(c.Path)
	return true, nil
}
