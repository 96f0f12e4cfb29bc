package check

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
	"fairframe/render/scene"
)

// errReread says that a capture turned out not to keep to the rate that its container
// names, and was read anew.
var errReread = errors.New("check: a capture was read anew")

// Ready is the quick part of a check, which runs before a scene is encoded: the plan,
// the time stamps of what is shown, the encoders, the room for the clip. Nothing is
// decoded and no capture measured. What cannot work is the error, in the words of the
// findings; what would mislead comes back as warnings. The plan is nil when the scene's
// pacing is still to be measured.
func Ready(ctx context.Context, p *scene.Project,
	s *comparison.Scene) (*scene.Planned, []finding.Finding, error) {
	for range s.Captures {
		if plan, warnings, err := readyOnce(ctx, p, s); !errors.Is(err, errReread) {
			return plan, warnings, err
		}
	}
	return readyOnce(ctx, p, s)
}

func readyOnce(ctx context.Context, p *scene.Project,
	s *comparison.Scene) (*scene.Planned, []finding.Finding, error) {
	footage, err := scene.Gather(ctx, p, s, scene.AssumeSteady)
	if err != nil {
		return nil, nil, err
	}
	plan, err := scene.Plan(footage)
	if err != nil {
		return nil, nil, err
	}
	found, err := unread(ctx, p, plan.Clip)
	if err != nil {
		return nil, nil, err
	}
	warnings, err := finding.Refuse(found)
	if footage.Assumed {
		plan = nil
	}
	return plan, warnings, err
}

// unread judges a planned clip without decoding anything.
func unread(ctx context.Context, p *scene.Project, clip *graph.Clip) ([]finding.Finding, error) {
	legs := make([][]finding.Finding, len(clip.Inputs))
	errs := make([]error, len(clip.Inputs)+1)
	var machine []finding.Finding
	var wg sync.WaitGroup
	for i := range clip.Inputs {
		wg.Go(func() { legs[i], errs[i] = stamps(ctx, p, clip, i) })
	}
	wg.Go(func() { machine, errs[len(clip.Inputs)] = able(ctx, p, clip) })
	wg.Wait()
	return append(slices.Concat(legs...), machine...), errors.Join(errs...)
}

// stamps judges the time stamps of what a clip shows of one leg. Scenes that show
// the same in another view ask once.
func stamps(ctx context.Context, p *scene.Project, clip *graph.Clip, leg int) ([]finding.Finding, error) {
	first, last, err := clip.Shown(leg)
	if err != nil {
		return nil, err
	}
	l := clip.Inputs[leg]
	if l.Capture.Variable() {
		return nil, nil // see Footage.Gaps
	}
	kept, err := p.Stamps.Get(ctx, scene.Stretch{Path: l.Capture.Path, First: first, Last: last},
		func() ([]finding.Finding, error) {
			r := l.Capture.Rate
			from, to := r.TimeOf(first), r.TimeOf(last+1)
			stamps, missing, err := p.Tools.Stamps(ctx, l.Capture, from, to)
			return append(Reach(stamps, last, r, from),
				Stamps(stamps, missing, r, from, to)...), err
		})
	if err != nil {
		return nil, err
	}
	if len(kept) > 0 {
		if again, err := p.Reread(ctx, l.Capture); err != nil {
			return nil, err
		} else if again {
			return nil, errReread
		}
	}
	found := slices.Clone(kept)
	for i := range found {
		found[i].Capture = l.Name
	}
	return found, nil
}

// able judges whether this machine has what a clip needs.
func able(ctx context.Context, p *scene.Project, clip *graph.Clip) ([]finding.Finding, error) {
	m := Machine{Delivery: clip.Delivery.Name, Free: -1}
	d, _, err := p.Usable(ctx, clip.Delivery) // rendering says what it falls back to
	if err != nil {
		return nil, err
	}
	if m.Lacks, err = deliver.MissingEncoders(ctx, p.Tools, d.Encoders()); err != nil {
		return nil, err
	}
	var list []finding.Finding
	for _, f := range m.Findings() {
		if f.Severity == finding.Fails {
			list = append(list, f)
		}
	}
	return list, nil
}

// existing is the folder itself, or for one still to be made the nearest above it
// that is there.
func existing(folder string) string {
	for {
		if _, err := os.Stat(folder); err == nil || folder == filepath.Dir(folder) {
			return folder
		}
		folder = filepath.Dir(folder)
	}
}

// rawBits is more than a pixel of a clip comes to in any delivery.
const rawBits = 16

// SpaceFor judges whether clips of so many frames fit on the disk. As a rule they fit
// by far, and no encoder is tried.
func SpaceFor(ctx context.Context, p *scene.Project,
	frames int64) (fits func(frames int64) error, err error) {
	free := freeBytes(existing(p.File.Output.Folder))
	size := p.File.Output.Size
	if raw := frames * int64(size.X*size.Y) * rawBits / 8; free < 0 || raw <= free {
		return func(int64) error { return nil }, nil
	}
	d, err := scene.Delivery(p.File)
	if err != nil {
		return nil, err
	}
	_, each, err := deliver.TimeEncoder(ctx, p.Tools, d, size, p.File.Output.Rate)
	if err != nil {
		return nil, err
	}
	return func(frames int64) error {
		if _, err := finding.Refuse(Room(frames*each, free)); err != nil {
			return &finding.Passing{Err: err}
		}
		return nil
	}, nil
}

// Frames is how many frames a scene's clip has.
func Frames(f *comparison.File, s *comparison.Scene) int64 {
	rate := f.Output.Rate
	scene := rate.FramesIn(s.Length)
	if m, err := s.Time(rate); err == nil {
		scene = m.Frames()
	}
	return rate.FramesIn(s.Title) + scene + rate.FramesIn(s.Summary)
}

// Settle reads captures anew whose stamps in a scene are not those of the rate that
// their containers name.
func Settle(ctx context.Context, p *scene.Project, s *comparison.Scene,
	list []scene.Take) (changed bool, err error) {
	for _, one := range list {
		if one.Probed.Variable() {
			continue
		}
		stamps, missing, err := p.Tools.Stamps(ctx, one.Probed, one.Start, one.Start+s.Length)
		if err != nil {
			return false, err
		}
		if len(Stamps(stamps, missing, one.Probed.Rate, one.Start, one.Start+s.Length)) > 0 {
			again, err := p.Reread(ctx, one.Probed)
			if err != nil {
				return false, err
			}
			changed = changed || again
		}
	}
	return changed, nil
}
