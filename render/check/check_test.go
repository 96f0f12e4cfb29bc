package check

import (
	"image"
	"math"
	"strings"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

var hz60 = pacing.Rate{Num: 60, Den: 1}

func compare(t *testing.T, name string, got []Finding, want ...string) {
	t.Helper()
	var list []string
	for _, f := range got {
		list = append(list, f.String())
	}
	if strings.Join(list, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s: found\n  %s\nwant\n  %s", name, strings.Join(list, "\n  "), strings.Join(want, "\n  "))
	}
}

func TestCaptures(t *testing.T) {
	hd := image.Pt(1920, 1080)
	good := Recording{Size: hd, Rate: hz60, Matrix: "bt709", Range: "tv", TakenMatrix: "bt709"}
	with := func(change func(*Recording)) Recording {
		r := good
		change(&r)
		return r
	}
	rate := func(num, den int64) Recording {
		return with(func(r *Recording) { r.Rate = pacing.Rate{Num: num, Den: den} })
	}
	for name, test := range map[string]struct {
		r    Recording
		want []string
	}{
		"good": {good, nil},
		"30":   {rate(30, 1), []string{"note: its frame rate is not the output's (capture 30, output 60 frames a second)"}},
		// 60 less 60000/1001 is 0.05994 frames a second: one in 16.683 s.
		"59.94": {rate(60000, 1001), []string{"note: its frame rate is not the output's (capture 60000/1001, output 60 frames a second; one output frame slips every 16.7 s)"}},
		"50":    {rate(50, 1), []string{"misleads: its frame rate is not the output's (capture 50, output 60 frames a second; frames are repeated unevenly)"}},
		"120":   {rate(120, 1), []string{"misleads: its frame rate is not the output's (capture 120, output 60 frames a second; 50 % of its frames are never shown)"}},
		"4:3": {with(func(r *Recording) { r.Size = image.Pt(1440, 1080) }),
			[]string{"note: its aspect is not the output's (capture 1440x1080 is 1.333, output 1920x1080 is 1.778)"}},
		"untagged full": {with(func(r *Recording) { r.Matrix, r.TakenFull, r.Range = "", true, "pc" }),
			[]string{"note: its colours are not tagged (no matrix; taken as bt709, full range)"}},
	} {
		compare(t, name, Captures(test.r, hd, hz60), test.want...)
	}
}

// TestTags: what tags say against each other and against the size.
func TestTags(t *testing.T) {
	hd := Recording{Size: image.Pt(1920, 1080)}
	with := func(matrix, primaries, transfer string) Recording {
		r := hd
		r.Matrix, r.Primaries, r.Transfer = matrix, primaries, transfer
		return r
	}
	compare(t, "BT.709", tags(with("bt709", "bt709", "bt709")))
	compare(t, "PQ", tags(with("bt2020nc", "bt2020", "smpte2084")))
	compare(t, "BT.2020 of ordinary range", tags(with("bt2020nc", "bt2020", "bt709")))
	compare(t, "nothing", tags(hd))
	compare(t, "mixed", tags(with("bt709", "bt709", "smpte2084")),
		"misleads: its colour tags contradict each other (transfer smpte2084, matrix bt709, primaries bt709)")
	compare(t, "mixed too", tags(with("bt2020nc", "bt709", "smpte2084")),
		"misleads: its colour tags contradict each other (matrix bt2020nc, transfer smpte2084, primaries bt709)")
	compare(t, "BT.601", tags(with("smpte170m", "", "")), "note: its matrix is unusual for its size (smpte170m at 1920x1080)")
	hd.Size = image.Pt(720, 480)
	compare(t, "BT.601 of 480 lines", tags(with("smpte170m", "", "")))
}

// TestTransfer: of PQ 1000 cd/m² is the signal 0.7518 (ITU-R BT.2100-2 table 4,
// computed), in limited range code 16 + 219*0.7518 = 180.6.
func TestTransfer(t *testing.T) {
	with := func(code byte) *Levels {
		l, p := NewLevels(image.Pt(10, 10), false), make([]byte, 100)
		for i := range 20 {
			p[i] = code
		}
		l.Add(p)
		return l
	}
	compare(t, "below", with(180).Transfer("smpte2084", 0))
	compare(t, "above", with(181).Transfer("smpte2084", 0),
		"misleads: at 0.00 s: tagged as PQ, its codes look like those of an ordinary picture (20 % of the pixels would be brighter than 1000 cd/m²)")
	compare(t, "not PQ", with(200).Transfer("bt709", 0))
}

func TestStamps(t *testing.T) {
	var steady []time.Duration
	for n := range int64(120) {
		// Matroska keeps whole milliseconds.
		steady = append(steady, hz60.TimeOf(n).Round(time.Millisecond))
	}
	compare(t, "steady", Stamps(steady, 0, hz60, 0, 2*time.Second))
	gap := append(append([]time.Duration(nil), steady[:30]...), steady[33:]...)
	compare(t, "gap", Stamps(gap, 0, hz60, 0, time.Second),
		"fails: at 0.48 s: the recorder dropped frames (3 missing in 1 place, the longest step is 67.0 ms at 60 frames a second)")
	compare(t, "gap elsewhere", Stamps(gap, 0, hz60, time.Second, 2*time.Second))
	compare(t, "a gap that reaches out", Stamps(gap, 0, hz60, 0, hz60.TimeOf(31)),
		"fails: at 0.48 s: the recorder dropped frames (1 missing in 1 place, the longest step is 67.0 ms at 60 frames a second)")
	compare(t, "a gap just behind", Stamps(gap, 0, hz60, 0, hz60.TimeOf(30)))
	// Stamps of a capture card's clock: up to 0.4 frames off, none missing.
	var loose []time.Duration
	for n := range int64(120) {
		loose = append(loose, hz60.TimeOf(n)+time.Duration(n*7%9-4)*hz60.TimeOf(1)/10)
	}
	compare(t, "loose", Stamps(loose, 0, hz60, 0, 2*time.Second))
	twice := append(append([]time.Duration(nil), steady[:30]...), steady[29:]...)
	compare(t, "twice, and one without", Stamps(twice, 1, hz60, 0, time.Second),
		"misleads: at 0.00 s: frames without a time stamp (1 packets near the stretch have none)",
		"misleads: at 0.48 s: frames closer together than the frame rate allows (1 of them; at 60 frames a second they lie 16.7 ms apart)")
}

func TestReach(t *testing.T) {
	stamps := []time.Duration{hz60.TimeOf(57), hz60.TimeOf(58), hz60.TimeOf(59)}
	from := hz60.TimeOf(54)
	compare(t, "to the last", Reach(stamps, 59, hz60, from))
	compare(t, "one less", Reach(stamps, 60, hz60, from))
	compare(t, "too short", Reach(stamps, 61, hz60, from),
		"fails: at 1.00 s: the capture ends within the scene (its last frame ends at 1.00 s, the scene shows it to 1.03 s)")
	compare(t, "beyond", Reach(stamps, 300, hz60, 2*time.Second),
		"fails: at 2.00 s: the capture ends within the scene (nothing is recorded from 2.00 s on, the scene shows it to 5.02 s)")
	compare(t, "nothing", Reach(nil, 300, hz60, 2*time.Second),
		"fails: at 2.00 s: the capture ends within the scene (nothing is recorded from 2.00 s on, the scene shows it to 5.02 s)")
}

func TestExtent(t *testing.T) {
	compare(t, "right", Extent(0, 9*time.Second, 10*time.Second, "ms"))
	compare(t, "half", Extent(0, 5*time.Second, 10*time.Second, "ms"))
	compare(t, "milliseconds read as seconds", Extent(0, 9000*time.Second, 10*time.Second, "s"),
		"misleads: the pacing log's unit seems wrong (read as s it covers 9000 s, the capture lasts 10.00 s: about 10^3 times)")
	compare(t, "unknown length", Extent(0, time.Second, 0, "ms"))
}

func TestCadence(t *testing.T) {
	build := func(shift int64, pattern ...int64) []pacing.Frame {
		var list []pacing.Frame
		for i, at := 0, int64(0); at < 240; i++ {
			n := pattern[i%len(pattern)]
			list = append(list, pacing.Frame{Begin: hz60.TimeOf(at + shift), Time: hz60.TimeOf(n)})
			at += n
		}
		return list
	}
	measured := build(0, 1, 2, 3, 1, 1, 4)
	from, to := time.Second, 3*time.Second
	compare(t, "the same", Cadence(measured, measured, hz60, from, to))
	compare(t, "half a refresh apart", Cadence(measured, shiftBy(measured, 8*time.Millisecond), hz60, from, to))
	compare(t, "steady cadence, any offset", Cadence(build(0, 2), build(1, 2), hz60, from, to),
		"misleads: at 1.00 s: the pacing log is offset from the pictures (0 of 59 captured frames measured as new are so in the log; with the log moved by -16.7 ms (it is late), 59 are)")
	// Of the beginnings 0, 1, 3, 6, 7, 8 in 12 refreshes, 1, 3, 7 and 8 are also
	// beginnings when moved by 5: two thirds.
	compare(t, "early by 5", Cadence(measured, build(-5, 1, 2, 3, 1, 1, 4), hz60, from, to),
		"misleads: at 1.00 s: the pacing log is offset from the pictures (40 of 59 captured frames measured as new are so in the log; with the log moved by +83.3 ms (it is early), 59 are)")
	// One repeat in 8 refreshes and one in 5: of 16 to 18 repeats in 2 s the offset
	// shows, though most new frames coincide wherever the log lies.
	hardly := []int64{1, 1, 1, 2, 1, 1, 1, 1, 1, 1, 2}
	got := Cadence(build(0, hardly...), build(4, hardly...), hz60, from, to)
	if len(got) != 1 || !strings.Contains(got[0].Evidence, "measured as repeated") || !strings.Contains(got[0].Remedy, "add -0.0667 s") {
		t.Errorf("few repeats, late by 4: %v, %v", got, hardly)
	}
	compare(t, "another cadence", Cadence(measured, build(0, 1), hz60, from, to),
		"misleads: at 1.00 s: the pacing log contradicts the pictures (59 new frames measured from 1.00 s to 3.00 s, the log has 119)")
	if got := begins(measured, from, to); len(got) != 60 {
		t.Errorf("%d beginnings, want 60: 6 in 12 refreshes", len(got))
	}
}

func shiftBy(list []pacing.Frame, d time.Duration) []pacing.Frame {
	var moved []pacing.Frame
	for _, f := range list {
		f.Begin += d
		moved = append(moved, f)
	}
	return moved
}

func TestBlacksAndTones(t *testing.T) {
	size := image.Pt(100, 10)
	ramp := func(low, high int, full bool) *Levels {
		l, p := NewLevels(size, full), make([]byte, 1000)
		for i := range p {
			p[i] = byte(low + i*(high-low)/999)
		}
		l.Add(p)
		return l
	}
	pair := func(a, b *Levels) []Named[*Levels] { return []Named[*Levels]{{"alder", a}, {"birch", b}} }
	compare(t, "alike", Blacks(pair(ramp(16, 235, false), ramp(18, 235, false))))
	// Full range maps 0..255 to 16..235 (ITU-R BT.709, BT.2100 table 9).
	compare(t, "full beside limited", Blacks(pair(ramp(16, 235, false), ramp(0, 255, true))))
	compare(t, "lifted", Blacks(pair(ramp(16, 235, false), ramp(30, 220, false))),
		"misleads: capture birch: blacks are lifted against the other capture (black at code 30, alder has it at 16 (limited range))")
	crushed := ramp(16, 235, false)
	crushed.Add(make([]byte, 1000))
	compare(t, "crushed", Blacks(pair(ramp(16, 235, false), crushed)),
		"misleads: capture alder: blacks are lifted against the other capture (black at code 16, birch has it at 0 (limited range))",
		"misleads: capture birch: blacks are crushed against the other capture (50 % of its pixels are at black or below, alder has 0 %)")

	tone := func(r, g, b byte) *Tones {
		var one Tones
		one.Add([]byte{r, g, b})
		return &one
	}
	compare(t, "tones", SideBySide([]Named[*Tones]{{"alder", tone(128, 128, 128)}, {"birch", tone(120, 120, 120)}}),
		"note: brightness and saturation at matching moments (medians: alder 50 % and 0 %; birch 47 % and 0 %)")
	// BT.709 red: Y' 0.2126, C'R 0.5, C'B -0.1146.
	compare(t, "red", SideBySide([]Named[*Tones]{{"alder", tone(255, 0, 0)}, {"birch", tone(54, 54, 54)}}),
		"misleads: brightness or saturation differs at matching moments (medians: alder 21 % and 100 %; birch 21 % and 0 %)")
}

func TestViews(t *testing.T) {
	v := View{Capture: image.Pt(1920, 1080), Pane: image.Pt(960, 760), Scale: 1, Kernel: "nearest", CenterX: 0.5, CenterY: 0.5}
	compare(t, "one to one", Views(v))
	v.CenterX = 0.1
	compare(t, "moved", Views(v), "note: the window goes beyond the capture's edge and is moved inside (centre [0.100, 0.500], moved by +288, +0 pixels of the capture)")
	v.CenterX, v.Scale = 0.5, 3
	compare(t, "enlarged", Views(v), "note: the picture is enlarged (3x nearest; the name tab says so)")
	v.Scale = 16
	compare(t, "few pixels", Views(v), "note: the picture is enlarged (16x nearest; the name tab says so; its pane holds 60x48 pixels of the capture)")
	v.Scale = 0.4
	compare(t, "bars", Views(v), "note: the window is larger than the capture and leaves bars (the scaled capture is 768x432 pixels, its pane 960x760)")
}

// TestViewsThatMove: of all stops the worst is told, with its time.
func TestViewsThatMove(t *testing.T) {
	stop := func(at string, scale, x, y float64) View {
		return View{Capture: image.Pt(1920, 1080), Pane: image.Pt(960, 760), Scale: scale, Kernel: "lanczos", CenterX: x, CenterY: y, Stop: "at its stop at " + at + ": "}
	}
	compare(t, "inside", Views(stop("0s", 1, 0.5, 0.5), stop("1s", 1, 0.4, 0.5)))
	compare(t, "all", Views(stop("0s", 0.5, 0.5, 0.5), stop("1s", 0.4, 0.5, 0.5), stop("2s", 1, 0.2, 0.5), stop("3s", 2, 0, 0.5), stop("4s", 1.5, 0.5, 0.5)),
		"note: the window goes beyond the capture's edge and is moved inside (at its stop at 3s: centre [0.000, 0.500], moved by +240, +0 pixels of the capture)",
		"note: the window is larger than the capture and leaves bars (at its stop at 1s: the scaled capture is 768x432 pixels, its pane 960x760)",
		"note: the picture is enlarged (at its stop at 3s: 2x lanczos; the name tab says so)")
	list := func(a, b float64) []Named[float64] { return []Named[float64]{{"alder", a}, {"birch", b}} }
	compare(t, "alike", Scales([]time.Duration{0, time.Second}, [][]Named[float64]{list(1, 1), list(2, 2.005)}))
	compare(t, "different", Scales([]time.Duration{0, time.Second, 2 * time.Second}, [][]Named[float64]{list(1, 1), list(2, 3), list(1, 1.2)}),
		"note: at 1.00 s: the captures are shown at different scales (alder magnified 2, birch magnified 3)")
}

func TestMachine(t *testing.T) {
	m := Machine{Version: "5.1.9", Delivery: "web", Frames: 600, Bytes: 3e9, Free: 2e9, Time: 90 * time.Second, Lacks: []string{"libx264"}}
	compare(t, "poor", m.Findings(),
		"fails: ffmpeg lacks an encoder (delivery web needs libx264)",
		"note: disk space may run out (300.0 MB to 3.0 GB needed, 2.0 GB free)",
		"note: this machine (ffmpeg 5.1.9; 600 frames, estimated at most 3.0 GB on disk of 2.0 GB free and about 1m30s to render one after another)")
	m.Lacks, m.Free, m.Folder = nil, 2e8, "out"
	compare(t, "no room", m.Findings(),
		"fails: the output folder cannot be written to (out)",
		"fails: not enough disk space (300.0 MB to 3.0 GB needed, 200.0 MB free)",
		"note: this machine (ffmpeg 5.1.9; 600 frames, estimated at most 3.0 GB on disk of 200.0 MB free and about 1m30s to render one after another)")
	m.Free, m.Folder, m.Frames = -1, "", 0
	m.Version, m.Tried = "N-118334-g1234", []string{"5.1", "7.1"}
	compare(t, "untried", m.Findings(),
		"note: this version of ffmpeg was not tried (it is N-118334-g1234; the releases 5.1, 7.1 were)",
		"note: this machine (ffmpeg N-118334-g1234)")
	m.Version, m.Tried, m.Frames = "5.1.9", nil, 600
	compare(t, "unknown room", m.Findings(), "note: this machine (ffmpeg 5.1.9; 600 frames, estimated at most 3.0 GB on disk, of which the free space is not known here, and about 1m30s to render one after another)")
}

// TestEarKnowsClippingFromPeaks: a sine that just reaches full scale has no flat
// tops, one of twice that has two a period.
func TestEarKnowsClippingFromPeaks(t *testing.T) {
	hear := func(gain float64) []Finding {
		e := NewEar(1, 48000)
		for i := range 48000 {
			v := gain * math.Sin(2*math.Pi*1000*float64(i)/48000)
			e.Hear([]float32{float32(min(1, max(-1, v)))})
		}
		return e.Sound(0, time.Second)
	}
	compare(t, "full scale", hear(1))
	compare(t, "twice", hear(2), "misleads: at 0.00 s: the sound is clipped (2000 flat tops of 3 or more samples at full scale)")
}

func TestStarts(t *testing.T) {
	frame := hz60.TimeOf(1)
	compare(t, "right", Starts(time.Second, time.Second+8*time.Millisecond, frame, 0.9))
	compare(t, "5 frames late", Starts(time.Second, time.Second-5*frame, frame, 0.9),
		"misleads: its start seems to show another moment than the first capture's (the alignment puts it -0.083 s (-5.0 frames) from where it is written, with a confidence of 0.90)")
}

func TestMeasured(t *testing.T) {
	compare(t, "no doubt", Doubt(pacing.Doubt{Seen: time.Minute}, time.Second))
	compare(t, "sure", Doubt(pacing.Doubt{Time: 5, Seen: 100}, time.Second),
		"note: at 1.00 s: some frames of its pacing are doubtful (5.0 % of the scene rests on them)")
	compare(t, "in doubt", Doubt(pacing.Doubt{Time: 6, Seen: 100}, time.Second),
		"misleads: at 1.00 s: pacing uncertain (6.0 % of the scene rests on doubtful frames)")
	compare(t, "moving", Measured(100, 0, time.Second))
	compare(t, "still", Measured(1, 0, time.Second), "misleads: at 1.00 s: nothing moves that could be measured (no new frame in the scene)")
}

// How much of the picture shows nothing is said, where it is more than a little.
func TestEmpty(t *testing.T) {
	pane := func(w, h, shownW, shownH int) graph.Pane {
		return graph.Pane{Shot: layout.Shot{Pane: image.Pt(w, h), Keep: image.Rect(0, 0, shownW, shownH)}}
	}
	size := image.Pt(1080, 1920)
	compare(t, "half", Empty([]graph.Pane{pane(540, 1200, 540, 304), pane(540, 1200, 540, 304)}, size),
		"note: part of the picture is empty (captures leave 47 % of it black)")
	compare(t, "little", Empty([]graph.Pane{pane(540, 320, 540, 304), pane(540, 320, 540, 304)}, size))
}
