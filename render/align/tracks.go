package align

import (
	"context"
	"sync"
	"time"

	"fairframe/render/media"
	"fairframe/render/scene"
)

// Tracks are what is kept of captures to align them by, so that scenes which show
// the same stretch read it once. It is safe for concurrent use.
type Tracks struct {
	by     By
	mu     sync.Mutex
	wanted map[string][]scene.Part
	opened map[string]map[scene.Part]*Track
	done   float64 // seconds read
}

func NewTracks(by By) *Tracks {
	return &Tracks{by: by, wanted: map[string][]scene.Part{}, opened: map[string]map[scene.Part]*Track{}}
}

// want says before the first open what of captures will be asked for.
func (t *Tracks) want(list []toAlign, reach []scene.Part) {
	for i, c := range list {
		t.wanted[c.capture.Path] = append(t.wanted[c.capture.Path], reach[i])
	}
}

// total is how many seconds will be read.
func (t *Tracks) total(known map[string]time.Duration) (s float64) {
	for path, list := range t.wanted {
		for _, p := range scene.MergeParts(list) {
			to := p.To
			if end := known[path]; to == 0 || end > 0 && to > end {
				to = end
			}
			s += (to - p.From).Seconds()
		}
	}
	return s
}

// open returns the track that holds a part, and reads it when it is asked for first.
func (t *Tracks) open(ctx context.Context, tools *media.Tools, c media.Capture, p scene.Part,
	progress func(done, total int64)) (*Track, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, whole := range scene.MergeParts(t.wanted[c.Path]) {
		if p.From < whole.From || whole.To > 0 && (p.To == 0 || p.To > whole.To) {
			continue
		}
		p = whole
	}
	if one := t.opened[c.Path][p]; one != nil {
		return one, nil
	}
	total := t.total(map[string]time.Duration{c.Path: c.Duration()})
	one, err := Open(ctx, tools, c, t.by, p.From, p.To, func(s float64) {
		if progress != nil {
			progress(int64(t.done+s), int64(max(total, t.done+s)))
		}
	})
	if err != nil {
		return nil, err
	}
	t.done += one.Length()
	if t.opened[c.Path] == nil {
		t.opened[c.Path] = map[scene.Part]*Track{}
	}
	t.opened[c.Path][p] = one
	return one, nil
}

func (t *Tracks) Close() {
	for _, list := range t.opened {
		for _, one := range list {
			one.Close()
		}
	}
}

// Add is what another one's scenes ask for.
func (t *Tracks) Add(other *Tracks) {
	for path, list := range other.wanted {
		t.wanted[path] = append(t.wanted[path], list...)
	}
}
