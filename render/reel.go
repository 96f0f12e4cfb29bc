package render

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/media"
)

// Reel is what is known of a reel that a batch has joined.
type Reel struct {
	Out    string
	Scenes int
	Frames int64
	Length time.Duration
	Bytes  int64
	Took   time.Duration
	Sound  bool // it has sound, which was coded again
}

// reelRecord is what a reel carries of its own making: what each of its clips
// was made from.
type reelRecord struct {
	Version int      `json:"version"`
	Reel    []Record `json:"reel"`
}

// Reel joins the clips of a batch that has done all its scenes, in the order of
// its rows. progress may be nil.
func (p *Project) Reel(ctx context.Context, rows []Row, out string, progress Progress) (Reel, error) {
	began := time.Now()
	if err := p.checkName(out); err != nil {
		return Reel{}, err
	}
	scenes, entries, err := p.done(rows)
	if err != nil {
		return Reel{}, err
	}
	delivery, err := p.delivery()
	if err != nil {
		return Reel{}, err
	}
	reel := &media.Reel{Delivery: delivery, Rate: p.File.Output.Rate}
	record := reelRecord{Version: recordVersion}
	for i, s := range scenes {
		for _, input := range p.inputs(s) {
			if media.SameFile(input, out) {
				return Reel{}, &Error{Msg: fmt.Sprintf("the reel %s is one of the inputs", out), Hint: "choose another name for the reel"}
			}
		}
		reel.Parts = append(reel.Parts, media.ReelPart{Name: s.ID, Path: rows[i].Out, Frames: entries[i].Output.Frames, Title: titleOf(s)})
		if entries[i].Record != nil {
			record.Reel = append(record.Reel, *entries[i].Record)
		}
	}
	reel.Record = record.String()
	total := reel.Total()
	made, err := p.Tools.Join(ctx, reel, out, func(done int64) {
		if progress != nil {
			progress(done, total)
		}
	})
	if err != nil {
		return Reel{}, err
	}
	info, err := os.Stat(out)
	if err != nil {
		return Reel{}, err
	}
	if err := p.recordReel(ctx, out, made, record, reel.Rate.TimeOf(total)); err != nil {
		return Reel{}, err
	}
	return Reel{Out: out, Scenes: len(scenes), Frames: total, Length: reel.Rate.TimeOf(total), Bytes: info.Size(), Took: time.Since(began), Sound: made.Sound}, nil
}

// String is the record as a reel carries it.
func (r reelRecord) String() string {
	b, err := json.Marshal(r)
	if err != nil {
		panic(err) // the types hold nothing that JSON lacks
	}
	return string(b)
}

// recordReel adds a reel that lies in the output folder to the manifest there.
func (p *Project) recordReel(ctx context.Context, out string, made media.Joined, record reelRecord, length time.Duration) error {
	if !sameFolder(filepath.Dir(out), p.File.Output.Folder) {
		return nil
	}
	digests, err := p.Tools.Digests(ctx, out)
	if err != nil {
		return err
	}
	m, err := openManifest(p.manifestPath())
	if err != nil {
		return err
	}
	one := reelEntry{Rendered: time.Now().UTC().Truncate(time.Second), Output: describeOutput(out, made.Clip, length, digests), Record: record}
	for _, r := range record.Reel {
		one.Scenes = append(one.Scenes, r.Scene)
	}
	if m.Reels == nil {
		m.Reels = map[string]reelEntry{}
	}
	m.Reels[filepath.Base(out)] = one
	m.Program, m.Title, m.File, m.SHA256, m.Relative = "fairframe "+Version(), p.File.Title, filepath.ToSlash(p.File.Path), p.digest(), p.relative()
	return m.write()
}

// done returns the scenes of a batch's rows with what the manifest says of their
// clips. A scene that is not done is an error.
func (p *Project) done(rows []Row) ([]*comparison.Scene, []entry, error) {
	m, err := openManifest(p.manifestPath())
	if err != nil {
		return nil, nil, err
	}
	var missing []string
	scenes, entries := make([]*comparison.Scene, len(rows)), make([]entry, len(rows))
	for i, r := range rows {
		if scenes[i], err = p.File.Scene(r.Scene); err != nil {
			return nil, nil, err
		}
		one, ok := m.Scenes[r.Scene]
		if entries[i] = one; !ok || r.Status != Rendered && r.Status != UpToDate {
			missing = append(missing, r.Scene)
		}
	}
	if len(missing) > 0 {
		return nil, nil, &Error{Msg: fmt.Sprintf("not every scene has a clip: %s", strings.Join(missing, ", ")), Hint: "mend these scenes, or choose others with --only"}
	}
	if len(rows) == 0 {
		return nil, nil, &Error{Msg: "there are no scenes"}
	}
	return scenes, entries, nil
}

// CheckReel tells, before anything is rendered, whether a reel can have that
// name and be made of this delivery at all.
func (p *Project) CheckReel(out string) error {
	if err := p.checkName(out); err != nil {
		return err
	}
	if d, err := p.delivery(); err != nil {
		return err
	} else if !d.Carries() {
		return &Error{Msg: fmt.Sprintf("clips of delivery %s cannot be joined", d.Name), Hint: "choose another delivery for the reel"}
	}
	if slices.ContainsFunc(p.File.Scenes, func(s comparison.Scene) bool {
		own, err := p.Out(&s)
		return err == nil && media.SameFile(own, out)
	}) {
		return &Error{Msg: fmt.Sprintf("the reel %s has the name of a scene's clip", filepath.Base(out)), Hint: "choose another name for the reel"}
	}
	return p.checkFolder(out)
}

// checkFolder makes sure that something can be written beside a name.
func (p *Project) checkFolder(out string) error {
	if info, err := os.Stat(filepath.Dir(out)); err != nil && filepath.Clean(filepath.Dir(out)) != filepath.Clean(p.File.Output.Folder) || err == nil && !info.IsDir() {
		return &Error{Msg: fmt.Sprintf("there is no folder %s for %s", filepath.Dir(out), filepath.Base(out)), Hint: "choose a folder that exists"}
	}
	return nil
}
