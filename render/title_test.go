package render

import (
	"bytes"
	"image"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/comparison"
	"fairframe/render/scene"
)

// TestTitlePage reads a clip with both pages back: which page or which capture
// frame each of its frames is, when the sound begins and ends, what the previews
// show and which time code the clip bears.
func TestTitlePage(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(320, 180)
	small(t, dir)
	// The sound is a square wave: never silent, and it begins with a full step.
	loud := exec.Command(tools(t).FFmpeg, "-v", "error", "-i", filepath.Join(dir, "alder.mkv"), "-f", "lavfi", "-i", "aevalsrc=if(gte(mod(t\\,0.002)\\,0.001)\\,0.5\\,-0.5):s=48000:d=1",
		"-map", "0:v", "-map", "1:a", "-c:v", "copy", "-c:a", "pcm_s16le", "-metadata", "timecode=00:00:00:05", filepath.Join(dir, "loud.mkv"))
	if out, err := loud.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	text := `title: Kestrel Pass
output: {folder: out, size: 320x180, delivery: lossless}
captures:
  alder: {name: Alder, video: loud.mkv, pacing: alder.csv}
  birch: {name: Birch, video: birch.mkv, pacing: birch.csv}
defaults: {captures: [alder, birch], start: 100ms, length: 200ms}
scenes:
  - {id: plain, deck: {place: none}}
  - {id: both, deck: {place: none}, title: 150ms, summary: 50ms, timecode: alder}
  - {id: deck, caption: Launch, title: 1s}
`
	p := open(t, dir, text)
	plain, both := render(t, p, "plain"), render(t, p, "both")
	played, clip := pictures(t, plain.Out, size, "yuv420p"), pictures(t, both.Out, size, "yuv420p")
	const lead, length, closing = 9, 12, 3
	if len(played) != length || len(clip) != lead+length+closing || both.Frames != lead+length+closing {
		t.Fatalf("%d frames without pages, %d with them, %d reported", len(played), len(clip), both.Frames)
	}
	for k, got := range clip {
		var want []byte
		switch n := k - lead; {
		case n < 0:
			want = clip[0]
		case n >= length:
			want = clip[lead+length]
		default:
			want = played[n]
			if c := bar(t, got, size, image.Rect(0, 0, 160, 180), 320); c != 6+n {
				t.Errorf("frame %d shows capture frame %d", k, c)
			}
		}
		if !bytes.Equal(got, want) {
			t.Errorf("frame %d is not the one that belongs there", k)
		}
	}
	if bytes.Equal(clip[0], clip[lead]) || bytes.Equal(clip[0], clip[lead+length]) {
		t.Error("the pages are not pages of their own")
	}

	// Silence, then sound for exactly the scene, then silence.
	raw, err := exec.Command(tools(t).FFmpeg, "-v", "error", "-i", both.Out, "-f", "s16le", "-ac", "1", "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	first, last := -1, -1
	for i := 0; i+1 < len(raw); i += 2 {
		if v := int(int16(uint16(raw[i]) | uint16(raw[i+1])<<8)); v > 30 || v < -30 {
			if first < 0 {
				first = i / 2
			}
			last = i / 2
		}
	}
	const frame = 48000 / 60
	// The fades of 10 ms begin and end at nothing.
	if n := len(raw) / 2; n != (lead+length+closing)*frame || first < lead*frame || first > lead*frame+4 || last >= (lead+length)*frame || last < (lead+length)*frame-4 {
		t.Errorf("%d samples, sound from %d to %d; the scene is from %d to %d", n, first, last, lead*frame, (lead+length)*frame)
	}

	// The time code of the scene's first frame is that of the capture's frame 6.
	plan, err := scene.PlanScene(t.Context(), p, &p.File.Scenes[1])
	if err != nil {
		t.Fatal(err)
	}
	if want := "00:00:00:02"; plan.Clip.Timecode != want {
		t.Errorf("time code %s, want %s: 5 + 6 - 9", plan.Clip.Timecode, want)
	}

	stills, err := NewStills(t.Context(), p, "both", StillOptions{})
	if err != nil {
		t.Fatal(err)
	}
	bare, err := NewStills(t.Context(), p, "plain", StillOptions{})
	if err != nil {
		t.Fatal(err)
	}
	picture := func(s *Stills, k int64) []byte {
		t.Helper()
		b, err := s.Picture(t.Context(), k)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	at := func(when string) int64 {
		t.Helper()
		m, err := comparison.ParseTime(when)
		if err != nil {
			t.Fatal(err)
		}
		k, err := stills.FrameAt(m)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	if k := at("0s"); k != 0 || !bytes.Equal(picture(stills, k), picture(bare, 0)) {
		t.Errorf("--at 0s is frame %d and not the scene's first", k)
	}
	k, err := stills.TitleFrame()
	if err != nil || k != -lead || !bytes.Equal(picture(stills, k), picture(stills, -1)) || bytes.Equal(picture(stills, k), picture(stills, 0)) {
		t.Errorf("the title page is frame %d, %v", k, err)
	}
	if k := at("f14"); k != 14 || !bytes.Equal(picture(stills, k), picture(stills, length)) {
		t.Errorf("the closing page is frame %d", k)
	}
	m, _ := comparison.ParseTime("f15")
	if _, err := stills.FrameAt(m); err == nil || !strings.Contains(err.Error(), "it is 0.25 s long (15 frames)") {
		t.Errorf("beyond the end: %v", err)
	}
	if _, err := bare.TitleFrame(); err == nil || err.Error() != "scene plain has no title page" {
		t.Errorf("a page that is not there: %v", err)
	}
}

// The file's title is part of what a scene with a title page is made of, and of
// no other.
func TestTitleFingerprint(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	file := strings.Replace(smallFile, "{id: shore, start: 200ms}", "{id: shore, start: 200ms, title: 1s}", 1)
	marks := func(text string) (ridge, shore string) {
		p := open(t, dir, text)
		var list [2]string
		for i := range list {
			var err error
			if list[i], err = fingerprint(p, &p.File.Scenes[i]); err != nil {
				t.Fatal(err)
			}
		}
		return list[0], list[1]
	}
	ridge, shore := marks(file)
	ridgeAfter, shoreAfter := marks(strings.Replace(file, "Kestrel Pass", "Kestrel Pass, again", 1))
	if ridge != ridgeAfter || shore == shoreAfter {
		t.Errorf("with another title: ridge the same %v, shore the same %v", ridge == ridgeAfter, shore == shoreAfter)
	}
	if _, shoreAfter = marks(strings.Replace(file, "title: 1s", "title: 2s", 1)); shore == shoreAfter {
		t.Error("the page's length leaves the fingerprint as it is")
	}
}
