package render

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
)

// ready is the quick part of Check, which runs before a scene is encoded: the plan,
// the time stamps of what is shown, the encoders, the room for the clip. Nothing is
// decoded and no capture measured. What cannot work is the error, in the words of
// the findings; what would mislead comes back as warnings. The plan is nil when the
// scene's pacing is still to be measured.
func (p *Project) ready(ctx context.Context, s *comparison.Scene) (*Plan, []finding.Finding, error) {
	for range s.Captures {
		if plan, warnings, err := p.readyOnce(ctx, s); !errors.Is(err, errReread) {
			return plan, warnings, err
		}
	}
	return p.readyOnce(ctx, s)
}

func (p *Project) readyOnce(ctx context.Context, s *comparison.Scene) (*Plan, []finding.Finding, error) {
	list, err := p.captures(ctx, s)
	if err != nil {
		return nil, nil, err
	}
	stand := false
	plan, err := p.trial(ctx, s, list, func(one sceneCapture) (string, error) {
		stand = true
		return steadyLog(one, s)
	})
	if err != nil {
		return nil, nil, err
	}
	found, err := p.unread(ctx, plan.Clip)
	if err != nil {
		return nil, nil, err
	}
	warnings, err := finding.Refuse(found)
	if stand {
		plan = nil
	}
	return plan, warnings, err
}

// unread judges a planned clip without decoding anything.
func (p *Project) unread(ctx context.Context, clip *graph.Clip) ([]finding.Finding, error) {
	legs := make([][]finding.Finding, len(clip.Inputs))
	errs := make([]error, len(clip.Inputs)+1)
	var machine []finding.Finding
	var wg sync.WaitGroup
	for i := range clip.Inputs {
		wg.Go(func() { legs[i], errs[i] = p.stamps(ctx, clip, i) })
	}
	wg.Go(func() { machine, errs[len(clip.Inputs)] = p.able(ctx, clip) })
	wg.Wait()
	return append(slices.Concat(legs...), machine...), errors.Join(errs...)
}

// stretch is a part of a capture: the frames first to last.
type stretch struct {
	path        string
	first, last int64
}

// stamps judges the time stamps of what a clip shows of one leg. Scenes that show
// the same in another view ask once.
func (p *Project) stamps(ctx context.Context, clip *graph.Clip, leg int) ([]finding.Finding, error) {
	first, last, err := clip.Shown(leg)
	if err != nil {
		return nil, err
	}
	l := clip.Inputs[leg]
	if l.Capture.Variable() {
		return nil, nil // see Plan.gaps
	}
	kept, err := p.known.stretches.get(ctx, stretch{l.Capture.Path, first, last},
		func() ([]finding.Finding, error) {
			r := l.Capture.Rate
			from, to := r.TimeOf(first), r.TimeOf(last+1)
			stamps, missing, err := p.Tools.Stamps(ctx, l.Capture, from, to)
			return append(check.Reach(stamps, last, r, from),
				check.Stamps(stamps, missing, r, from, to)...), err
		})
	if err != nil {
		return nil, err
	}
	if len(kept) > 0 {
		if again, err := p.reread(ctx, l.Capture); err != nil {
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
func (p *Project) able(ctx context.Context, clip *graph.Clip) ([]finding.Finding, error) {
	m := check.Machine{Delivery: clip.Delivery.Name, Free: -1}
	d, _, err := p.usable(ctx, clip.Delivery) // rendering says what it falls back to
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

// room judges whether clips of so many frames fit on the disk. As a rule they fit
// by far, and no encoder is tried.
func (p *Project) room(ctx context.Context, d graph.Delivery,
	frames int64) (fits func(frames int64) error, err error) {
	free := freeBytes(existing(p.File.Output.Folder))
	size := p.File.Output.Size
	if raw := frames * int64(size.X*size.Y) * rawBits / 8; free < 0 || raw <= free {
		return func(int64) error { return nil }, nil
	}
	_, each, err := deliver.TimeEncoder(ctx, p.Tools, d, size, p.File.Output.Rate)
	if err != nil {
		return nil, err
	}
	return func(frames int64) error {
		_, err := finding.Refuse(check.Room(frames*each, free))
		return err
	}, nil
}

// frames is how many frames a scene's clip has.
func (p *Project) frames(s *comparison.Scene) int64 {
	rate := p.File.Output.Rate
	scene := rate.FramesIn(s.Length)
	if m, err := s.Time(rate); err == nil {
		scene = m.Frames()
	}
	return rate.FramesIn(s.Title) + scene + rate.FramesIn(s.Summary)
}

// prepare runs the quick part of the check on the scenes of a batch, before the
// first of them is encoded, and returns those that can be rendered. The rows of the
// others say why not; warned holds what the quick part says of each.
func (p *Project) prepare(ctx context.Context, scenes []*comparison.Scene, todo []int, rows []Row,
	warned [][]finding.Finding, jobs int, o BatchOptions) ([]int, error) {
	errs := make([]error, len(scenes))
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(jobs, len(todo)) {
		wg.Go(func() {
			for i := range next {
				if ctx.Err() == nil {
					_, warned[i], errs[i] = p.ready(ctx, scenes[i])
				}
			}
		})
	}
	for _, i := range todo {
		next <- i
	}
	close(next)
	wg.Wait()
	if ctx.Err() != nil {
		return nil, nil // the rows say that nothing was done
	}
	d, err := p.delivery()
	if err != nil {
		return nil, err
	}
	var all, sum int64
	for _, i := range todo {
		if errs[i] == nil {
			all += p.frames(scenes[i])
		}
	}
	fits, err := p.room(ctx, d, all)
	if err != nil {
		return nil, err
	}
	var able []int
	for _, i := range todo {
		if errs[i] == nil {
			// Together with those that are rendered before it.
			errs[i] = fits(sum + p.frames(scenes[i]))
		}
		if errs[i] == nil {
			sum += p.frames(scenes[i])
			able = append(able, i)
			continue
		}
		rows[i].Status, rows[i].Err = Failed, errs[i]
		if o.Started != nil {
			_, ended := o.Started(scenes[i].ID)
			ended(rows[i])
		}
	}
	return able, nil
}
