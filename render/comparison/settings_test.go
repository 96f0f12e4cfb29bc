package comparison

import (
	"strings"
	"testing"
)

// TestSettings names every setting of a scene as a user would look for it.
func TestSettings(t *testing.T) {
	f := parse(t, `output: {size: 1280x720, rate: 60000/1001}
captures:
  alder: {video: '/home/someone/alder.mkv', pacing: {file: logs/a.csv, column: ms, means: frame-time}, raster: 1408x792}
  birch: {video: 'D:\play\birch.mkv', pacing: {region: [0, 0, 64, 32]}}
  cedar: {video: cedar.mkv}
fonts: {text: ../fonts/a.ttf}
scenes:
  - id: shore
    captures: [birch, alder]
    start: {alder: 00:00:01:15, birch: 2s}
    length: 1s
    window: {alder: {magnify: 3, kernel: nearest}, birch: whole}
    deck: {rate-axis: [0, 70]}
    timecode: birch
    summary: 1500ms
`)
	got := f.Settings(&f.Scenes[0])
	for name, want := range map[string]string{
		"output.size": "1280x720", "output.rate": "60000/1001", "output.delivery": "web", "id": "shore", "length": "1s", "view": "auto",
		"fonts.1": "../fonts/a.ttf", "captures": "birch, alder", "captures.alder.video": "alder.mkv", "captures.birch.video": "birch.mkv",
		"captures.alder.raster": "1408x792", "captures.alder.pacing.file": "logs/a.csv", "captures.alder.pacing.column": "ms",
		"captures.birch.pacing.measure": "true", "captures.birch.pacing.region": "(0,0)-(64,32)",
		"captures.alder.start": "00:00:01:15", "captures.birch.start": "2s",
		"captures.alder.window.magnify": "3", "captures.alder.window.kernel": "nearest", "captures.birch.window.whole": "true",
		"deck.place": "below", "deck.rate-axis.max": "70", "deck.rate-window": "1s", "timecode": "birch", "summary": "1.5s", "audio": "birch",
	} {
		if got[name] != want {
			t.Errorf("%s is %q, want %q", name, got[name], want)
		}
	}
	for name, value := range got {
		if strings.Contains(name, "cedar") || strings.Contains(value, "someone") || strings.Contains(value, "play") || strings.ToLower(name) != name {
			t.Errorf("%s: %q", name, value)
		}
	}
}

func TestPortable(t *testing.T) {
	for written, want := range map[string]string{
		"captures/alder.mkv": "captures/alder.mkv", "../a b/alder.mkv": "../a b/alder.mkv", `captures\alder.mkv`: "captures/alder.mkv",
		"/home/someone/alder.mkv": "alder.mkv", `C:\play\alder.mkv`: "alder.mkv", "C:alder.mkv": "alder.mkv", `\\server\share\alder.mkv`: "alder.mkv",
		"~/alder.mkv": "alder.mkv", "a:b.mkv": "b.mkv", "": "",
	} {
		if got := Portable(written); got != want {
			t.Errorf("%q: %q, want %q", written, got, want)
		}
	}
}
