package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/spf13/pflag"

	"fairframe/render/align"
	"fairframe/render/media"
	"fairframe/render/scene"
)

func alignCommand() command {
	return command{
		name: "align", operands: "A B [C [D]] | FILE [--scene ID] | CAPTURE --log LOG | FILE --logs",
		short: "finds the offset between captures, with a confidence",
		long: `A to D are captures; FILE is a comparison file, without --scene all its scenes are
aligned, each capture read once. The others are compared with the
first capture: an offset of 1.5 s means that what A shows at 10 s, B shows at
11.5 s. Capture time counts from the first video frame.

Sound is compared by generalised cross-correlation with phase transform (Knapp
and Carter 1976), pictures by how small signatures of them change. Both are used
where there are both; sound then gives the fraction of a frame. Play that parts
has no one offset: the stretches in which one holds are listed. A confidence of
0.5 or more may be relied on. When nothing matches, the text says so and the
confidence is near 0; that is a result, so the exit code is 0 all the same, but
--write then writes nothing and fails.

Of three captures the second is also compared with the third. Where the way from the
first to the third by the second is longer or shorter than the direct one by more
than half a frame, one of the offsets is wrong: it is said, and none of them may be
relied on.

--write sets the scenes' starts in FILE: the first capture's stays, the others
follow. Nothing else in the file changes, and one copy of it is kept. A scene whose
offsets may not be relied on keeps its starts, and the exit code is 1.

--log finds where a pacing log starts on its capture, at any offset: part of the
capture is measured, and the log is moved to where its new frames are those of the
pictures. The line "starts:" goes under the capture's pacing:. --logs does so for the
logs of FILE, each near the first scene that shows its capture, and --write sets their
starts. A pacing that is the same all the time has no place of its own: then the
confidence is near 0. --format json writes {"version": 1, "logs": [{"capture", "log",
"starts_s": null when nothing matches, "was_s", "confidence", "matched", "correlation",
"frames": new ones in the pictures, "agree": of these, in the log, "from_s", "to_s":
what was measured, "notes"}]}.

--format json writes, in seconds of capture time:
  {"version": 1, "pairs": [{"a": …, "b": …,
    "offset_s": t_b - t_a where both show the same instant (0 when nothing matches),
    "confidence": 0 to 1, "matched": whether it may be relied on,
    "frames": the offset in frames of b, "at_s": t_a for which it holds,
    "method": both, sound or picture,
    "evidence": {"sound": …, "picture": …} with each one's own offset_s, spread_s,
      peak (correlation, 0 to 1) and blocks; null where it tells nothing,
    "runner_up": the next best offset_s and its share of the evidence, or null,
    "drift_ppm": by which b's clock runs ahead of a's, and "drift_error_ppm"; null when
      too little matches to tell,
    "stretches": [{"from_s", "to_s" (of a), "offset_s", "confidence", …}],
    "start_s": proposed start of b, with FILE or --around only,
    "searched_s": [from, to], "notes": […]}],
  "loop": null for two captures or four; for three the second against the third: {"b", "c",
    "offset_s", "confidence", "gap_s": by which a to b and b to c is longer than a to c,
    "agrees": that it is so by half a frame at most, "at_s": t_a there}}
and for all scenes of FILE {"version": 1, "scenes": [one of these for each, with its "scene"]}.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			scene := flags.String("scene", "", "the `ID` of the scene in FILE (default: all scenes)")
			keysOf(flags, "scene", "scenes")
			writes := flags.Bool("write", false, "set the starts in FILE")
			logs := addLogFlags(flags)
			by := choice(flags, "by", "method", "compare by `WHAT`: both, sound or picture",
				"both", "sound", "picture")
			search := flags.Duration("search", 0,
				"how far the offset may be from the expected one, as a `DURATION`\n"+
					"(default 10m, or 2m around a moment or a scene)")
			around := flags.String("around", "",
				"find the offset at this `TIME` of the first capture\n"+
					"(default: the scene's start, or where most matches)")
			picture := flags.String("picture", "", "draw the evidence into this `OUT.png`")
			format := choice(flags, "format", "format", "of the result: text or json", "text", "json")
			return func(ctx context.Context, e *env, args []string) error {
				o := align.Options{Search: *search}
				var err error
				if o.By, err = align.ParseBy(*by); err != nil {
					return err
				}
				if *search < 0 || *search > 24*time.Hour {
					return usagef("", "--search %v is outside 0s to 24h", *search)
				}
				if of, err := logs.wanted(args, *scene, *writes); of || err != nil {
					if err != nil {
						return err
					}
					return runAlignLogs(ctx, e, args[0], logs, *writes, *around, *format)
				}
				const names = "name two to four captures, or a comparison file"
				switch {
				case *scene == "" && len(args) == 1 && isComparison(args[0]):
					if *around != "" || *picture != "" {
						return usagef("name a scene with --scene",
							"--around and --picture are about one scene")
					}
					return runAlignScenes(ctx, e, args[0], *writes, *format, o)
				case *scene == "" && *writes:
					return usagef("write fairframe align FILE --write", "--write needs a comparison file")
				case *scene == "" && len(args) == 1:
					return usagef(names+"; a capture and its pacing log with --log LOG",
						"one capture cannot be aligned")
				case *scene == "" && (len(args) < 2 || len(args) > 4):
					return usagef(names, "%d captures were given", len(args))
				case *scene != "" && len(args) != 1:
					return usagef("quote names that hold spaces",
						"with --scene one comparison file was expected, %d names were given", len(args))
				}
				return runAlign(ctx, e, args, *scene, *writes, *around, *picture, *format, o)
			}
		},
	}
}

// aroundTime is the time of a capture that --around names, nil if it names none.
func aroundTime(ctx context.Context, t *media.Tools, capture, around string) (*time.Duration, error) {
	if around == "" {
		return nil, nil
	}
	c, err := t.Probe(ctx, capture)
	if err != nil {
		return nil, err
	}
	at, err := captureTime("--around", around, c.Rate)
	return &at, err
}

func runAlign(ctx context.Context, e *env, args []string, id string, writes bool, around,
	picture, format string, o align.Options) error {
	var project *scene.Project
	t, err := e.tools()
	if err != nil {
		return err
	}
	first := args[0]
	if id != "" {
		if project, err = e.open(args[0]); err != nil {
			return err
		}
	}
	var found align.Aligned
	bar := e.progress("align", "seconds")
	progress := func(done, total int64) { bar.update("", done, total) }
	if project != nil {
		s, err := project.File.Scene(id)
		if err != nil {
			return err
		}
		if c, ok := project.File.Capture(s.Captures[0]); ok {
			first = c.Video
		}
	}
	if o.Around, err = aroundTime(ctx, t, first, around); err != nil {
		return err
	}
	if project != nil {
		s, err := project.File.Scene(id)
		if err != nil {
			return err
		}
		found, err = align.Scene(ctx, project, s, o, progress)
		bar.done()
		if err != nil {
			return err
		}
	} else {
		found, err = align.Captures(ctx, t, args, o, progress)
		bar.done()
		if err != nil {
			return err
		}
	}
	if picture != "" {
		if err := found.Draw(ctx, t, picture); err != nil {
			return err
		}
	}
	if format == "json" {
		err = writeAlignJSON(e.stdout, found, project != nil || around != "")
	} else {
		err = writeAlignText(e.stdout, found, project != nil, around != "")
	}
	if err != nil || !writes {
		return err
	}
	starts, err := found.Starts()
	if err != nil {
		return err
	}
	s, err := project.File.Scene(id)
	if err != nil {
		return err
	}
	backup, err := align.WriteStarts(project.File, s, starts)
	if err != nil {
		return err
	}
	line(e.stderr, "written", fmt.Sprintf("the starts of scene %s in %s; as it was: %s",
		id, args[0], backup))
	return nil
}

// alignJSON is the shape of align --format json, version 1. All times are in
// seconds of capture time, which counts from a capture's first video frame.
type alignJSON struct {
	Version int             `json:"version"`
	Scene   string          `json:"scene,omitempty"` // where all of a file are aligned
	Pairs   []alignPairJSON `json:"pairs"`           // the first capture with each other one
	Loop    *alignLoopJSON  `json:"loop"`            // of three captures; null of two
}

// alignLoopJSON is the second capture against the third: where a pair's offsets are
// right, a to b and b to c come to a to c.
type alignLoopJSON struct {
	B          string   `json:"b"`
	C          string   `json:"c"`
	Offset     *float64 `json:"offset_s"`   // t_c - t_b; null: not compared, or nothing matches
	Confidence float64  `json:"confidence"` //
	// by which the way by b is longer; null: no instant at which all three match
	Gap    *float64 `json:"gap_s"`
	Agrees bool     `json:"agrees"` // the gap is at most half a frame
	At     *float64 `json:"at_s"`   // t_a at which the gap was found
}

// alignPairJSON is one capture, b, against the first, a.
type alignPairJSON struct {
	A string `json:"a"` // as given: a path, or the capture's key
	B string `json:"b"` //
	// t_b - t_a where both show the same instant; 0 when nothing matches
	Offset     float64            `json:"offset_s"`
	Confidence float64            `json:"confidence"`
	Matched    bool               `json:"matched"`   // confidence >= 0.5: the offset may be relied on
	Frames     float64            `json:"frames"`    // offset_s in frames of b
	At         float64            `json:"at_s"`      // t_a for which offset_s holds
	Method     string             `json:"method"`    // both, sound or picture: what spoke for it
	Evidence   alignEvidencesJSON `json:"evidence"`  //
	RunnerUp   *alignRunnerJSON   `json:"runner_up"` // null: no other offset has any evidence
	// b's clock against a's; null: too little matches to tell
	Drift      *float64           `json:"drift_ppm"`
	DriftError *float64           `json:"drift_error_ppm"`
	Stretches  []alignStretchJSON `json:"stretches"` // parts of a that match, in order
	Start      *float64           `json:"start_s,omitempty"`
	Searched   [2]float64         `json:"searched_s"` // range of offsets
	Blocks     int                `json:"blocks"`     // pieces of a that were looked for
	Block      float64            `json:"block_s"`    // length of each
	Silent     int                `json:"silent_blocks"`
	Still      int                `json:"still_blocks"`
	Notes      []string           `json:"notes"`
}

type alignEvidencesJSON struct {
	Sound   *alignEvidenceJSON `json:"sound"`   // null: sound does not speak for the offset
	Picture *alignEvidenceJSON `json:"picture"` // null: pictures do not
}

type alignEvidenceJSON struct {
	Offset float64 `json:"offset_s"` // by this alone
	Spread float64 `json:"spread_s"` // standard deviation of the blocks
	Peak   float64 `json:"peak"`     // mean correlation, 0 to 1
	Blocks int     `json:"blocks"`
}

type alignRunnerJSON struct {
	Offset float64 `json:"offset_s"`
	Share  float64 `json:"share"` // of the best offset's evidence
}

type alignStretchJSON struct {
	From       float64            `json:"from_s"` // t_a
	To         float64            `json:"to_s"`
	Offset     float64            `json:"offset_s"` // in its middle
	Confidence float64            `json:"confidence"`
	Blocks     int                `json:"blocks"`
	Drift      *float64           `json:"drift_ppm"`
	DriftError *float64           `json:"drift_error_ppm"`
	Evidence   alignEvidencesJSON `json:"evidence"`
}

func writeAlignJSON(w io.Writer, found align.Aligned, starts bool) error {
	return encodeJSON(w, alignDocument(found, starts))
}

// writeScenesJSON writes the scenes one by one.
func writeScenesJSON(w io.Writer, found []align.SceneAligned) error {
	doc := struct {
		Version int         `json:"version"`
		Scenes  []alignJSON `json:"scenes"`
	}{Version: 1}
	for i := range found {
		one := alignDocument(found[i].Aligned, true)
		one.Scene = found[i].Scene.ID
		doc.Scenes = append(doc.Scenes, one)
	}
	return encodeJSON(w, doc)
}

func encodeJSON(w io.Writer, doc any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(doc)
}

func alignDocument(found align.Aligned, starts bool) alignJSON {
	doc := alignJSON{Version: 1}
	for _, p := range found.Pairs {
		one := alignPairJSON{
			A: p.A, B: p.B, Offset: micro(p.Offset), Confidence: micro(p.Confidence), Matched: p.Matched(),
			Frames: micro(p.Offset * p.CaptureB.Rate.Hz()), At: micro(p.At),
			Method: p.Method().String(), Stretches: []alignStretchJSON{}, Searched: p.Searched,
			Blocks: p.Blocks, Block: p.Block,
			Silent: p.Silent, Still: p.Still, Notes: append([]string{}, p.Notes...),
		}
		for i := range p.Stretches {
			s := &p.Stretches[i]
			js := alignStretchJSON{From: micro(s.From), To: micro(s.To), Offset: micro(s.Offset),
				Confidence: micro(s.Confidence), Blocks: s.Blocks,
				Evidence: alignEvidencesJSON{evidenceJSON(s.Heard), evidenceJSON(s.Seen)}}
			if !math.IsNaN(s.Drift) {
				d, de := micro(s.Drift), micro(s.DriftError)
				js.Drift, js.DriftError = &d, &de
			}
			if s.Confidence >= align.Confident {
				one.Stretches = append(one.Stretches, js)
			}
			if i == p.Best {
				one.Evidence, one.Drift, one.DriftError = js.Evidence, js.Drift, js.DriftError
				if s.Runner != nil {
					one.RunnerUp = &alignRunnerJSON{micro(s.Runner.Offset), micro(s.Runner.Share)}
				}
			}
		}
		if starts && p.Matched() {
			start := p.ProposedB().Seconds()
			one.Start = &start
		}
		doc.Pairs = append(doc.Pairs, one)
	}
	if l := found.Loop; l != nil {
		doc.Loop = &alignLoopJSON{B: l.B, C: l.C, Agrees: l.Agrees()}
		if l.Result != nil {
			doc.Loop.Confidence = micro(l.Confidence)
			if l.Matched() {
				o := micro(l.Offset)
				doc.Loop.Offset = &o
			}
		}
		if l.Compared {
			gap, at := micro(l.Gap), micro(l.At)
			doc.Loop.Gap, doc.Loop.At = &gap, &at
		}
	}
	return doc
}

// micro rounds to what is known at best.
func micro(x float64) float64 { return math.Round(x*1e6) / 1e6 }

func evidenceJSON(e *align.Evidence) *alignEvidenceJSON {
	if e == nil {
		return nil
	}
	return &alignEvidenceJSON{micro(e.Offset), micro(e.Spread), micro(e.Peak), e.Blocks}
}

func writeAlignText(w io.Writer, found align.Aligned, scene, moment bool) error {
	for _, p := range found.Pairs {
		fmt.Fprintf(w, "%s → %s\n", p.A, p.B)
		if p.Matched() {
			fmt.Fprintf(w, "  offset      %+.4f s, %+.2f frames of %s at %s Hz\n",
				p.Offset, p.Offset*p.CaptureB.Rate.Hz(), p.B, p.CaptureB.Rate)
			fmt.Fprintf(w, "  confidence  %.2f\n", p.Confidence)
		} else {
			fmt.Fprintf(w, "  nothing matches: no offset from %+.0f s to %+.0f s is reliable\n",
				p.Searched[0], p.Searched[1])
			fmt.Fprintf(w, "  confidence  %.2f\n", p.Confidence)
		}
		if p.Best >= 0 {
			s := &p.Stretches[p.Best]
			if !p.Matched() {
				fmt.Fprintf(w, "  likeliest   %+.4f s\n", p.Offset)
			}
			evidenceText(w, "sound", s.Heard)
			evidenceText(w, "pictures", s.Seen)
			if s.Runner != nil && s.Runner.Share >= 0.1 {
				fmt.Fprintf(w, "  next best   %+.3f s, with %.0f %% of the evidence\n",
					s.Runner.Offset, 100*s.Runner.Share)
			}
			if p.Matched() && !math.IsNaN(s.Drift) {
				fmt.Fprintf(w, "  drift       %+.1f ± %.1f ppm: the clock of %s against that of %s\n",
					s.Drift, s.DriftError, p.B, p.A)
			}
		}
		if p.Matched() {
			for _, s := range p.Stretches {
				if s.Confidence >= align.Confident {
					fmt.Fprintf(w, "  stretch     %.1f s to %.1f s: %+.4f s, confidence %.2f\n",
						s.From, s.To, s.Offset, s.Confidence)
				}
			}
			switch {
			case scene:
				fmt.Fprintf(w, "  start       %s: %.4f s (now %.4f s)\n",
					p.B, p.ProposedB().Seconds(), p.StartB.Seconds())
			case moment:
				fmt.Fprintf(w, "  start       %s: %.4f s, %s: %.4f s\n",
					p.A, p.StartA.Seconds(), p.B, p.ProposedB().Seconds())
			}
		}
		if p.Silent > 0 || p.Still > 0 {
			fmt.Fprintf(w, "  blocks      %d of %.1f s; %d silent, %d still\n",
				p.Blocks, p.Block, p.Silent, p.Still)
		}
		for _, n := range p.Notes {
			fmt.Fprintf(w, "  note        %s\n", n)
		}
	}
	return writeLoopText(w, found.Loop)
}

func writeLoopText(w io.Writer, l *align.Loop) error {
	if l == nil {
		return nil
	}
	_, err := fmt.Fprintf(w, "%s → %s\n  check       %s\n", l.B, l.C, l.Verdict())
	return err
}

func evidenceText(w io.Writer, name string, e *align.Evidence) {
	if e == nil {
		return
	}
	fmt.Fprintf(w, "  %-11s %+.4f s ± %.4f s in %d blocks, correlation %.2f\n",
		name, e.Offset, e.Spread, e.Blocks, e.Peak)
}
