package render

import (
	"encoding/json"
	"image"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/media"
	"fairframe/render/media/mediatest"
)

// TestClipTimecode reads the time code of finished clips as ffprobe told it.
func TestClipTimecode(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(320, 180)
	barCapture(t, filepath.Join(dir, "alder.mkv"), size, hz5994, 30)
	err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: filepath.Join(dir, "birch.mov"), Size: size, PixFmt: "yuv420p", Rate: hz5994,
		Args: []string{"-c:v", "mpeg4", "-q:v", "2", "-timecode", "01:00:59;50", "-f", "mov"}},
		mediatest.Film(size, 30))
	if err != nil {
		t.Fatal(err)
	}
	const file = `output: {folder: out, size: 320x180, rate: 60000/1001, delivery: DELIVERY}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mov}
defaults: {captures: [alder, birch], start: f10, length: 50ms, audio: none, deck: {place: none}}
scenes:
  - {id: counted, timecode: alder}
  - {id: own, timecode: birch}
  - {id: none}
`
	for delivery, ending := range map[string]string{"web": ".mp4", "lossless": ".mkv"} {
		p := open(t, dir, strings.Replace(file, "DELIVERY", delivery, 1))
		for id, want := range map[string]string{"counted": "00:00:00;10", "own": "01:01:00;04", "none": ""} {
			r := render(t, p, id)
			if filepath.Ext(r.Out) != ending {
				t.Errorf("%s is no %s", r.Out, ending)
			}
			if c := r.made.Rendered.Clip; c.Timecode != want || c.Frames == 0 {
				t.Errorf("%s, scene %s: time code %q, %d frames, want %q", delivery, id, c.Timecode, c.Frames, want)
			}
			if delivery == "web" && hasTrack(t, r.Out) != (want != "") {
				t.Errorf("%s, scene %s: a tmcd track: %v", delivery, id, want == "")
			}
		}
	}
}

// hasTrack reports whether a file has a time code track.
func hasTrack(t *testing.T, path string) bool {
	t.Helper()
	b, err := exec.Command(tools(t).FFprobe, "-v", "error", "-show_streams", "-print_format", "json", "file:"+path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var found struct {
		Streams []struct {
			Tag string `json:"codec_tag_string"`
		}
	}
	if err := json.Unmarshal(b, &found); err != nil {
		t.Fatal(err)
	}
	for _, s := range found.Streams {
		if s.Tag == "tmcd" {
			return true
		}
	}
	return false
}
