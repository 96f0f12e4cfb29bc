package render

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/record"
	"fairframe/render/scene"
)

// Reel is what is known of a reel that a batch has joined.
type Reel struct {
	Out    string
	Scenes int
	Frames int64
	Length time.Duration
	Bytes  int64
	Took   time.Duration
	Sound  deliver.ReelSound
	Status Status // Rendered or UpToDate

	Warnings []finding.Finding
}

// MakeReel joins the clips of a batch that has done all its scenes, in the order of
// its rows, unless the manifest says that this very reel is there already; fresh
// joins them all the same. progress may be nil.
func MakeReel(ctx context.Context, p *scene.Project, rows []Row, out string, fresh bool,
	progress Progress) (Reel, error) {
	began := time.Now()
	if err := checkName(p.File, out); err != nil {
		return Reel{}, err
	}
	scenes, entries, err := done(p, rows)
	if err != nil {
		return Reel{}, err
	}
	delivery, err := scene.Delivery(p.File)
	if err != nil {
		return Reel{}, err
	}
	if record.Overwrites(out, p.File, scenes...) {
		return Reel{}, &finding.Error{Msg: fmt.Sprintf("the reel %s is one of the inputs", out),
			Hint: "choose another name for the reel"}
	}
	m, err := record.OpenManifest(p.Manifest())
	if err != nil {
		return Reel{}, err
	}
	reel := &deliver.Reel{Delivery: delivery, Rate: p.File.Output.Rate}
	fingerprint := sha256.New()
	for i, s := range scenes {
		reel.Parts = append(reel.Parts, deliver.ReelPart{Name: s.ID, Path: rows[i].Out,
			Frames: entries[i].Output.Frames, Title: scene.Title(s), Gain: entries[i].Output.Gain})
		fmt.Fprintf(fingerprint, "%q %q %s %s\n", s.ID, scene.Title(s), entries[i].Fingerprint,
			entries[i].Output.SHA256)
	}
	total := reel.Total()
	made := Reel{Out: out, Scenes: len(scenes), Frames: total, Length: reel.Rate.TimeOf(total),
		Status: UpToDate}
	one := record.ReelEntry{Fingerprint: hex.EncodeToString(fingerprint.Sum(nil)),
		Record: record.NewReelRecord(entries)}
	key := m.NameOf(out)
	if was, ok := m.Reels[key]; ok && !fresh && was.Fingerprint == one.Fingerprint {
		if bytes, modified, err := record.OnDisk(out); err == nil && bytes == was.Output.Bytes &&
			modified.Equal(was.Output.Modified) {
			made.Bytes, made.Sound, made.Took = bytes, was.Sound, time.Since(began)
			return made, nil
		}
	}
	if err := addReelSound(ctx, p, reel, scenes); err != nil {
		return Reel{}, err
	}
	reel.Record = one.Record.String()
	joined, err := deliver.Join(ctx, p.Tools, reel, out, func(done int64) {
		if progress != nil {
			progress(done, total)
		}
	})
	if err != nil {
		return Reel{}, err
	}
	digests, err := deliver.ReadDigests(ctx, p.Tools, out)
	if err != nil {
		return Reel{}, err
	}
	one.Rendered, one.Sound = time.Now().UTC().Truncate(time.Second), joined.Sound
	one.Output = record.NewOutput(out, joined.Clip, made.Length, digests)
	one.Output.File = key
	for _, s := range scenes {
		one.Scenes = append(one.Scenes, s.ID)
	}
	if err := m.RecordReel(p.Files, p.File, one); err != nil {
		return Reel{}, err
	}
	made.Bytes, made.Sound, made.Took, made.Status =
		one.Output.Bytes, joined.Sound, time.Since(began), Rendered
	made.Warnings = joined.Warnings
	return made, nil
}

// addReelSound says what the sound of the reel's clips is made of, where a coder
// would lose some of it a second time.
func addReelSound(ctx context.Context, p *scene.Project, reel *deliver.Reel,
	scenes []*comparison.Scene) error {
	if !reel.Delivery.Lossy() {
		return nil
	}
	for i, s := range scenes {
		plan, err := scene.PlanScene(ctx, p, s)
		if err != nil {
			return err
		}
		reel.Parts[i].Made = plan.Clip
	}
	return nil
}

// done returns the scenes of a batch's rows with what the manifest says of their
// clips. A scene that is not done is an error.
func done(p *scene.Project, rows []Row) ([]*comparison.Scene, []record.Entry, error) {
	m, err := record.OpenManifest(p.Manifest())
	if err != nil {
		return nil, nil, err
	}
	var missing []string
	scenes, entries := make([]*comparison.Scene, len(rows)), make([]record.Entry, len(rows))
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
		return nil, nil, &finding.Error{Msg: fmt.Sprintf("these scenes have no clip: %s",
			strings.Join(missing, ", ")), Hint: "correct these scenes, or choose others with --only"}
	}
	if len(rows) == 0 {
		return nil, nil, &finding.Error{Msg: "there are no scenes"}
	}
	return scenes, entries, nil
}

// CheckReel tells, before anything is rendered, whether a reel can have that
// name and be made of this delivery at all.
func CheckReel(f *comparison.File, out string) error {
	if out == "" {
		return &finding.Error{Msg: "the reel has no name",
			Hint: "write --reel OUT with the same ending as the clips"}
	}
	if err := checkName(f, out); err != nil {
		return err
	}
	if d, err := scene.Delivery(f); err != nil {
		return err
	} else if !d.HasTags() {
		return &finding.Error{Msg: fmt.Sprintf("clips of delivery %s cannot be joined", d.Name),
			Hint: "choose another delivery for the reel"}
	}
	if slices.ContainsFunc(f.Scenes, func(s comparison.Scene) bool {
		own, err := Out(f, &s)
		return err == nil && media.SameFile(own, out)
	}) {
		return &finding.Error{Msg: fmt.Sprintf("the reel %s has the name of a scene's clip", filepath.Base(out)),
			Hint: "choose another name for the reel"}
	}
	return checkFolder(f, out)
}

// checkFolder makes sure that something can be written beside a name.
func checkFolder(f *comparison.File, out string) error {
	if info, err := os.Stat(filepath.Dir(out)); err != nil &&
		filepath.Clean(filepath.Dir(out)) != filepath.Clean(f.Output.Folder) ||
		err == nil && !info.IsDir() {
		return &finding.Error{
			Msg:  fmt.Sprintf("there is no folder %s for %s", filepath.Dir(out), filepath.Base(out)),
			Hint: "choose a folder that exists"}
	}
	return nil
}
