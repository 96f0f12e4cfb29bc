package render

import (
	"encoding/json"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/finding"
	"fairframe/render/scene"
)

// TestTimeline: the frames that a timeline names of each capture are those that
// the clip shows, by their bar codes; spans are where the log has them; and ffmpeg
// reads the WebVTT back.
func TestTimeline(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(320, 180)
	barCapture(t, filepath.Join(dir, "alder.mkv"), size, hz60, 100)
	barCapture(t, filepath.Join(dir, "birch.mkv"), size, hz30, 60)
	writeLog(t, filepath.Join(dir, "alder.csv"), append(cadence(42, 1), shift(cadence(80, 2), hz60.TimeOf(42))...))
	p := open(t, dir, `output: {folder: out, size: 320x180, rate: 60, delivery: lossless}
captures:
  alder: {name: Alder, video: alder.mkv, pacing: alder.csv}
  birch: {name: Birch, video: birch.mkv}
defaults: {captures: [alder, birch], audio: none, deck: {place: none}}
scenes:
  - {id: one, start: {alder: f6, birch: f9}, length: f72}
  - {id: two, captures: [birch, alder], start: {alder: f20, birch: f31}, length: f20, timecode: alder, title: 100ms}
  - {id: three, start: f12, length: f24, speed: 0.5, hold: [{at: 200ms, for: 100ms}]}
`)
	rows, err := Batch(t.Context(), p, BatchOptions{})
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "out", "cut.otio")
	warnings, err := WriteTimeline(t.Context(), p, rows, name)
	if err != nil {
		t.Fatal(err)
	}
	expect(t, "warnings", strings.Join(finding.Warnings(warnings), "; "), "scene one: capture birch has no pacing; its spans and hitches are not marked; scene two: capture birch has no pacing; its spans and hitches are not marked; scene three: capture birch has no pacing; its spans and hitches are not marked")

	type item struct {
		Schema  string `json:"OTIO_SCHEMA"`
		Effects []struct {
			Scalar float64 `json:"time_scalar"`
		}
		Range struct {
			Start, Duration struct{ Rate, Value float64 }
		} `json:"source_range"`
		Markers []struct {
			Name  string
			Range struct {
				Start, Duration struct{ Value float64 }
			} `json:"marked_range"`
		}
	}
	var doc struct {
		Tracks struct {
			Children []struct {
				Name     string
				Children []item
			}
		}
	}
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(strings.ReplaceAll(string(b), `"start_time"`, `"start"`)), &doc); err != nil {
		t.Fatal(err)
	}
	var all [][]byte
	for _, r := range rows {
		all = append(all, pictures(t, r.Out, size, "yuv420p")...)
	}
	panes := map[string][]image.Rectangle{
		"Alder": {image.Rect(0, 0, 160, 180), image.Rect(160, 0, 320, 180)},
		"Birch": {image.Rect(160, 0, 320, 180), image.Rect(0, 0, 160, 180)},
	}
	seen, warped := 0, 0
	for _, track := range doc.Tracks.Children {
		at := 0
		for _, c := range track.Children {
			n := int(c.Range.Duration.Value)
			if pane := panes[track.Name]; pane != nil && c.Schema == "Clip.2" {
				where := pane[0]
				if at >= 72 && at < 98 {
					where = pane[1]
				}
				scalar := 1.0
				if len(c.Effects) > 0 {
					scalar = c.Effects[0].Scalar
					warped++
				}
				for k := range n {
					want := int(c.Range.Start.Value) + int(float64(k)*scalar*c.Range.Start.Rate/60)
					if got := bar(t, all[at+k], size, where, 320); got != want {
						t.Fatalf("%s, picture %d shows %d, the timeline says %d", track.Name, at+k, got, want)
					}
					seen++
				}
			}
			at += n
		}
		if at != len(all) {
			t.Errorf("track %s lasts %d frames, the clips %d", track.Name, at, len(all))
		}
	}
	if seen != 2*(72+20+48+6) || warped != 2*3 {
		t.Errorf("%d pictures were looked at, %d warps", seen, warped)
	}
	if m := doc.Tracks.Children[0].Children[0].Markers; len(m) != 2 || m[0].Name != "Alder holds 60 fps" || m[0].Range.Start.Value != 6 || m[0].Range.Duration.Value != 36 || m[1].Range.Start.Value != 42 {
		t.Errorf("markers %+v", m)
	}

	edl, vtt := filepath.Join(dir, "out", "cut.edl"), filepath.Join(dir, "out", "cut.vtt")
	for _, name := range []string{edl, vtt} {
		if _, err := WriteTimeline(t.Context(), p, rows, name); err != nil {
			t.Fatal(err)
		}
	}
	b, err = os.ReadFile(edl)
	if err != nil {
		t.Fatal(err)
	}
	// Alder's frame 20 is the first after six frames of the title page.
	if want := "002  TWO      V     C        00:00:00:14 00:00:00:40 01:00:01:12 01:00:01:38\r\n"; !strings.Contains(string(b), want) {
		t.Errorf("the list lacks %q\n%s", want, b)
	}
	out, err := exec.Command(tools(t).FFprobe, "-v", "error", "-show_entries", "packet=pts_time,duration_time", "-of", "csv=p=0", "file:"+vtt).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	expect(t, "cues read back", strings.Join(strings.Fields(strings.ReplaceAll(string(out), ",,", ",")), " "), "0.000000,0.600000, 0.600000,0.600000,")

}

// TestVariableRateHandedOn: a log with a row for each captured picture is counted by the
// pictures' stamps, and what editors get says that a capture's pictures are not counted.
func TestVariableRateHandedOn(t *testing.T) {
	dir := t.TempDir()
	// Pictures 0 to 19 of 60 a second, then every third until 57: 20 + 13.
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(strings.Replace(moving, "d=1.5", "d=1", 1), join([]string{"-vf", "select='lt(n,20)+not(mod(n,3))'", "-fps_mode", "passthrough"}, bt709)...)...)
	write(t, filepath.Join(dir, "alder.csv"), "new\n"+strings.Repeat("1\n", 33))
	p := open(t, dir, `output: {folder: out, size: 320x180, rate: 60, delivery: lossless}
captures:
  alder: {name: Alder, video: alder.mkv, pacing: {file: alder.csv, column: new, means: new-frame}}
scenes:
  - {id: one, captures: [alder], start: 0.2s, length: 500ms, audio: none, deck: {place: none}, timecode: alder}
`)
	s := &p.File.Scenes[0]
	list, err := scene.Probe(t.Context(), p, s)
	if err != nil {
		t.Fatal(err)
	}
	trace, _, err := scene.ReadPacing(t.Context(), p, s, list[0])
	if err != nil {
		t.Fatal(err)
	}
	for at, want := range map[int64][2]int64{13: {13, 14}, 18: {18, 19}, 22: {21, 24}, 26: {24, 27}, 41: {39, 42}} {
		f, ok := trace.At(hz60.TimeOf(at) + time.Millisecond)
		if off := f.Begin - hz60.TimeOf(want[0]); !ok || off.Abs() > time.Millisecond {
			t.Errorf("frame on screen at %d of 60 begins at %v, want %v", at, f.Begin, hz60.TimeOf(want[0]))
		}
		if off := f.End() - hz60.TimeOf(want[1]); off.Abs() > time.Millisecond {
			t.Errorf("frame on screen at %d of 60 ends at %v, want %v", at, f.End(), hz60.TimeOf(want[1]))
		}
	}
	rows, err := Batch(t.Context(), p, BatchOptions{})
	if err != nil || rows[0].Err != nil {
		t.Fatal(err, rows[0].Err)
	}
	if all := strings.Join(finding.Warnings(rows[0].Result.Warnings), "\n"); !strings.Contains(all, "capture alder is of variable rate; its timecode counts its time at 60 frames a second, not its pictures") {
		t.Errorf("the clip's warnings are\n%s", all)
	}
	for name, want := range map[string]string{
		"cut.edl":  "*   VARIABLE RATE, COUNTED AT 60 FRAMES A SECOND: 12 TO 41 (0.200 S TO 0.700 S) AT ",
		"cut.otio": `"value": 58.0`, // the last picture is number 57 of 60 a second
	} {
		name = filepath.Join(dir, "out", name)
		warnings, err := WriteTimeline(t.Context(), p, rows, name)
		if err != nil {
			t.Fatal(err)
		}
		if all := strings.Join(finding.Warnings(warnings), "\n"); !strings.Contains(all, "scene one: capture alder is of variable rate; the timeline counts its time at 60 frames a second, not its pictures") {
			t.Errorf("%s: the warnings are\n%s", name, all)
		}
		if b, err := os.ReadFile(name); err != nil || !strings.Contains(string(b), want) {
			t.Errorf("%s lacks %q\n%s%v", name, want, b, err)
		}
	}
}
