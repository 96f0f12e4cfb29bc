package check

import (
	"context"
	"image"
	"slices"
	"time"

	"fairframe/render/align"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

// Options say how much is checked. The zero value is all scenes, quickly.
type Options struct {
	Scene    string                  // id of the only scene to check; "": all
	Deep     bool                    // decode the captures completely, and align the scenes
	Progress func(done, total int64) // told steps done, of how many; may be nil
}

// Run reads everything that the scenes need, renders nothing, and returns what
// would fail or mislead, the worst first. An error means that the check itself
// could not be done.
func Run(ctx context.Context, p *scene.Project, o Options) ([]finding.Finding, error) {
	scenes := make([]*comparison.Scene, 0, len(p.File.Scenes))
	for i := range p.File.Scenes {
		scenes = append(scenes, &p.File.Scenes[i])
	}
	if o.Scene != "" {
		s, err := p.File.Scene(o.Scene)
		if err != nil {
			return nil, err
		}
		scenes = []*comparison.Scene{s}
	}
	c := &checker{p: p, deep: o.Deep, progress: o.Progress, bad: map[string]bool{},
		logs: map[string][]pacing.Frame{}}
	shown := map[string]bool{}
	for _, s := range scenes {
		c.total += int64(len(s.Captures)) + 1
		for _, key := range s.Captures {
			if !shown[key] {
				shown[key] = true
				c.total++
			}
		}
	}
	version, err := p.Tools.Version(ctx)
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return []finding.Finding{finding.OfError("this ffmpeg cannot be used", err)}, nil
	}
	for i := range p.File.Captures {
		switch one := &p.File.Captures[i]; {
		case shown[one.Key]:
			c.capture(ctx, one)
		case o.Scene == "":
			c.add(one.Key, "", finding.Finding{Severity: finding.Note, What: "no scene shows it",
				Remedy: "name it in a scene's captures:, or remove it"})
		}
	}
	c.share(ctx, scenes)
	defer c.shared.tracks.Close()
	var frames int64
	for _, s := range scenes {
		c.scene(ctx, s)
		frames += Frames(p.File, s)
	}
	c.machine(ctx, version, frames)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return finding.Sort(c.found), nil
}

// checker gathers what the findings are judged from.
type checker struct {
	p        *scene.Project
	deep     bool
	progress func(done, total int64)
	found    []finding.Finding
	bad      map[string]bool           // captures that cannot be read
	logs     map[string][]pacing.Frame // of captures, in their own clock
	shared   shared
	done     int64
	total    int64
	decoding time.Duration // spent on decoding and composing what scenes show
}

func (c *checker) step() {
	if c.done++; c.progress != nil {
		c.progress(c.done, c.total)
	}
}

// add keeps findings of a capture, of a scene, or of both.
func (c *checker) add(capture, scene string, list ...finding.Finding) {
	for _, f := range list {
		if f.Capture == "" {
			f.Capture = capture
		}
		f.Scene = scene
		c.found = append(c.found, f)
	}
}

// scene checks one scene, and each capture's stretch of it.
func (c *checker) scene(ctx context.Context, s *comparison.Scene) {
	for _, key := range s.Captures {
		if c.bad[key] {
			for range len(s.Captures) + 1 {
				c.step()
			}
			return // the capture's own finding says why
		}
	}
	list, err := c.settled(ctx, s)
	if err != nil {
		c.add("", s.ID, finding.OfError("the scene cannot be rendered", err))
		return
	}
	clip := c.plan(ctx, s)
	var levels []Named[*Levels]
	var tones []Named[*Tones]
	comparable := true
	heard := scene.Heard(s)
	for i, one := range list {
		l, t, clean := c.stretch(ctx, s, one, clip)
		comparable = comparable && clean
		if l != nil {
			levels = append(levels, Named[*Levels]{Key: one.Key, Value: l})
		}
		if t != nil {
			tones = append(tones, Named[*Tones]{Key: one.Key, Value: t})
		}
		if slices.Contains(heard, i) {
			c.sound(ctx, s, one)
		}
		if one.Pacing.File != "" && s.Deck.Place != comparison.DeckNone {
			c.cadence(ctx, s, one)
		}
		c.step()
	}
	if clip != nil {
		c.loudness(ctx, s, clip)
		c.watch(ctx, s, clip)
	}
	c.step()
	together := c.starts(ctx, s)
	if len(levels) == len(list) && len(tones) == len(list) {
		// Black points say nothing of pictures that are black, whose range is in
		// doubt already, or that show different moments.
		if comparable && together {
			if oneLight(list) {
				c.add("", s.ID, Blacks(levels)...)
			} else {
				c.add("", s.ID, finding.Finding{Severity: finding.Note, What: "blacks were not compared",
					Evidence: "the captures code light differently"})
			}
		}
		side := SideBySide(tones)
		if !oneLight(list) {
			for i := range side {
				side[i].Evidence += ", of light as the clip shows it, HDR tone-mapped"
			}
		}
		c.add("", s.ID, side...)
	}
}

// settled returns a scene's captures, read anew where their stamps in it show that they
// do not keep to the rate that their containers name.
func (c *checker) settled(ctx context.Context, s *comparison.Scene) ([]scene.Take, error) {
	list, err := scene.Probe(ctx, c.p, s)
	if err != nil {
		return nil, err
	}
	if changed, err := Settle(ctx, c.p, s, list); err != nil || !changed {
		return list, err
	}
	now, err := scene.Probe(ctx, c.p, s)
	if err != nil {
		return nil, err
	}
	for i, one := range now {
		if one.Probed.Variable() && !list[i].Probed.Variable() {
			c.add(one.Key, "", stampFindings(one.Probed)...)
		}
	}
	return now, nil
}

// stampFindings says of a capture of variable rate what its stamps tell, and cannot.
func stampFindings(one media.Capture) []finding.Finding {
	s := one.Stamping()
	if s == nil {
		return nil
	}
	return Variable(Stamped{Grid: s.Grid, Rate: one.Rate, Missing: s.Missing, Doubled: s.Doubled,
		Pictures: one.Frames, Mean: s.Mean, Shortest: s.Shortest, Longest: s.Longest})
}

// oneLight reports whether all captures code light in the same way, so that codes
// can be compared.
func oneLight(list []scene.Take) bool {
	for _, one := range list {
		if one.Probed.Colour.Light() != list[0].Probed.Colour.Light() {
			return false
		}
	}
	return true
}

const (
	// farOff is how far around the starts as written a check looks for better ones,
	// and a deep check. Whoever is farther off sees it, and has align.
	farOff, deepFarOff = time.Second, 3 * time.Second
	// aligned is how much of a scene is aligned, unless the check is deep, and
	// beside how much play around it.
	aligned, alignedBeside = 8 * time.Second, 2 * time.Second
)

// starts aligns the scene's captures near their starts. That nothing matches is
// no finding: play may differ. It reports whether nothing speaks against the starts.
func (c *checker) starts(ctx context.Context, s *comparison.Scene) (together bool) {
	if len(s.Captures) < 2 {
		return true
	}
	part, o := c.alignment(s)
	o.Tracks = c.shared.tracks
	aligned, err := align.Scene(ctx, c.p, part, o, nil)
	if err != nil {
		if ctx.Err() == nil {
			c.add("", s.ID, finding.Finding{Severity: finding.Note, What: "the starts could not be checked",
				Evidence: err.Error()})
		}
		return true
	}
	together = true
	for _, one := range aligned.Pairs {
		if !one.Matched() {
			continue
		}
		found := time.Duration(one.Offset * float64(time.Second))
		list := Starts(one.StartB-one.StartA, found, one.CaptureB.Rate.TimeOf(1), one.Confidence)
		together = together && len(list) == 0
		c.add(one.B, s.ID, list...)
	}
	return together
}

// smallPicture is the size of the pictures that a capture is looked at in.
var smallPicture = image.Pt(64, 36)

// watchedSide is the longer side of the pictures in which the planned clip is
// watched for flashes: a pixel then spans about a tenth of a degree, see
// Flashes.
const watchedSide = 256

// watched is the size of those pictures.
func watched(output image.Point) image.Point {
	longer := max(output.X, output.Y)
	return image.Pt(max(2, output.X*watchedSide/longer&^1), max(2, output.Y*watchedSide/longer&^1))
}

// watch looks at the clip as planned, composed with all its views, cuts and
// drawings, for flashes: what a view makes of harmless captures may flash.
func (c *checker) watch(ctx context.Context, s *comparison.Scene, clip *graph.Clip) {
	size := watched(clip.Size)
	flashes := NewFlashes(size)
	began := time.Now()
	err := deliver.EachPicture(ctx, c.p.Tools, clip, size, func(k int64, rgb []byte) error {
		flashes.Add(clip.Rate.TimeOf(k), rgb)
		return nil
	})
	c.decoding += time.Since(began)
	// Places count from the scene's start, which a title page comes before.
	c.add("", s.ID, flashes.Findings(-clip.Rate.TimeOf(clip.Lead()))...)
	if err == nil || ctx.Err() != nil {
		return
	}
	for _, f := range c.found {
		if f.Severity == finding.Fails && f.Scene == s.ID {
			return // which says it better
		}
	}
	c.add("", s.ID, finding.OfError("the scene cannot be composed", err))
}

const (
	// moments is how many pictures of a scene are compared between captures.
	moments = 16
	// samples is how many are read at full size.
	samples = 4
	// near is how many frames decode sooner than a decoder starts.
	near = 96
	// sampled is how much of a scene is measured against its log.
	sampled = 4 * time.Second
)

// stretch reads what a scene shows of a capture: stamps, small pictures of every
// frame, and a few at full size. What it returns is nil where nothing was read;
// clean says that the pictures are neither black nor of a doubtful range.
func (c *checker) stretch(ctx context.Context, s *comparison.Scene, one scene.Take,
	clip *graph.Clip) (_ *Levels, tones *Tones, clean bool) {
	t, r := c.p.Tools, one.Probed.Rate
	from, end := r.FrameAt(one.Start), one.Start+s.Length
	count := r.FramesIn(s.Length)
	if one.Probed.Variable() {
		// See Footage.Gaps.
	} else if stamps, missing, err := t.Stamps(ctx, one.Probed, one.Start, end); err != nil {
		c.add(one.Key, s.ID, finding.OfError("its time stamps cannot be read", err))
	} else {
		c.add(one.Key, s.ID, Stamps(stamps, missing, r, one.Start, end)...)
	}
	seen := c.survey(ctx, s, one, clip)
	shown, got, trouble, err := &seen.shown, seen.got, seen.trouble, seen.err
	tones = &seen.tones
	if err != nil {
		if ctx.Err() == nil {
			c.add(one.Key, s.ID, finding.OfError("the capture cannot be decoded", err))
		}
		return nil, nil, false
	}
	c.add(one.Key, s.ID, Coverage(got, count, r, one.Start)...)
	if trouble != "" {
		c.damage(ctx, one.Key, s, one.Probed, from, count)
	}
	found := shown.Findings(one.Start)
	l, combs := c.levels(ctx, s, one)
	if l == nil {
		c.add(one.Key, s.ID, found...)
		return nil, tones, false
	}
	found = append(found, l.Range(one.Start)...)
	found = append(found, l.Transfer(one.Probed.Tags.Transfer, one.Start)...)
	clean = len(found) == 0
	if len(one.Probed.Warnings) == 0 { // which say that it is interlaced
		found = append(found, combs.Findings(one.Start)...)
	}
	c.add(one.Key, s.ID, append(found, l.Bars(one.Start)...)...)
	return l, tones, clean
}

// machine checks what rendering needs of this machine.
func (c *checker) machine(ctx context.Context, version string, frames int64) {
	p := c.p
	d, err := scene.Delivery(p.File)
	if err != nil {
		c.add("", "", finding.OfError("the delivery is not known", err))
		return
	}
	m := Machine{Version: version, Delivery: d.Name, Free: -1}
	if !media.WasTried(version) {
		m.Tried = media.Tried()
	}
	if d, m.Fallback, err = p.Usable(ctx, d); err != nil {
		c.add("", "", finding.OfError("this ffmpeg cannot be used", err))
		return
	}
	if m.Lacks, err = deliver.MissingEncoders(ctx, p.Tools, d.Encoders()); err != nil {
		c.add("", "", finding.OfError("this ffmpeg cannot be used", err))
		return
	}
	folder := existing(p.File.Output.Folder)
	m.Free = freeBytes(folder)
	if !writable(folder) {
		m.Folder = folder
	}
	if len(m.Lacks) == 0 {
		each, bytes, err := deliver.TimeEncoder(ctx, p.Tools, d, p.File.Output.Size, p.File.Output.Rate)
		if err != nil {
			c.add("", "", finding.OfError("a trial of the encoder failed", err))
		} else {
			m.Frames, m.Bytes, m.Time = frames, frames*bytes, c.decoding+time.Duration(frames)*each
		}
	}
	c.add("", "", m.Findings()...)
}
