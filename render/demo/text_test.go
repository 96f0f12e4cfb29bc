package demo

import (
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/comparison"
)

// The comparison file parses, and each scene shows the same moment of the game
// in all its captures, from the first frame to the last within them.
func TestComparisonFile(t *testing.T) {
	for _, length := range []time.Duration{MinLength, 3 * time.Second, 7300 * time.Millisecond, DefaultLength, time.Minute} {
		for _, size := range []image.Point{{X: 1920, Y: 1080}, {X: 320, Y: 180}, {X: 720, Y: 1280}} {
			t.Run(fmt.Sprintf("%v/%v", length, size), func(t *testing.T) {
				o := Options{Length: length, Size: size}
				f, err := comparison.Parse(filepath.Join("demo", comparisonName), []byte(comparisonText(o, machines())))
				if err != nil {
					t.Fatal(err)
				}
				lead := map[string]time.Duration{}
				for _, m := range machines() {
					lead[m.key] = m.lead
				}
				three := 0
				for _, s := range f.Scenes {
					var moment time.Duration
					for i, key := range s.Captures {
						at, err := s.Start[key].At(captureRate())
						if err != nil {
							t.Fatal(err)
						}
						if i == 0 {
							moment = at + lead[key]
						}
						// A frame number's time is rounded to 1 ns.
						if d := at + lead[key] - moment; d < -1 || d > 1 {
							t.Errorf("%s: %s shows the game at %v, %s at %v", s.ID, s.Captures[0], moment, key, at+lead[key])
						}
						if at+s.Length > length {
							t.Errorf("%s: ends at %v in %s, which lasts %v", s.ID, at+s.Length, key, length)
						}
					}
					if s.Length < 400*time.Millisecond {
						t.Errorf("%s lasts %v", s.ID, s.Length)
					}
					three += len(s.Captures) - 2
				}
				if len(f.Scenes) < 4 || three == 0 || three == len(f.Scenes) {
					t.Errorf("%d scenes, %d of three captures", len(f.Scenes), three)
				}
			})
		}
	}
}

// The examples say that they fit the demo. In each of their scenes, all captures
// show one moment of the game: their starts differ by the leads. And the scenes
// lie within the default demo and within one of 2 s.
func TestExamplesFitTheDemo(t *testing.T) {
	lead := map[string]time.Duration{}
	for _, m := range machines() {
		lead[m.key] = m.lead
	}
	for _, name := range []string{"comparison.yaml", "views.yaml"} {
		path := filepath.Join("..", "..", "examples", name)
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		f, err := comparison.Parse(path, text)
		if err != nil {
			t.Fatal(err)
		}
		if len(f.Scenes) == 0 {
			t.Errorf("%s has no scenes", name)
		}
		for _, s := range f.Scenes {
			var moment time.Duration
			for i, key := range s.Captures {
				start, err := s.Start[key].At(captureRate())
				if err != nil {
					t.Fatal(err)
				}
				if i == 0 {
					moment = start + lead[key]
				}
				if got := start + lead[key]; got != moment {
					t.Errorf("%s, scene %s: %s shows the game at %v, %s at %v", name, s.ID, s.Captures[0], moment, key, got)
				}
				for _, length := range []time.Duration{MinLength, DefaultLength} {
					if start+s.Length > length {
						t.Errorf("%s, scene %s ends at %v of a demo of %v", name, s.ID, start+s.Length, length)
					}
				}
			}
		}
	}
}

func TestSealNoticesChanges(t *testing.T) {
	text := comparisonText(Options{Length: MinLength, Size: image.Pt(320, 180)}, machines())
	for _, c := range []struct {
		text string
		want bool
	}{
		{text, true},
		{strings.ReplaceAll(text, "\n", "\r\n"), true}, // checked out on Windows
		{text + "# mine\n", false},
		{strings.Replace(text, "title: Kestrel", "title: My", 1), false},
		{strings.SplitN(text, "\n", 2)[1], false},
		{"", false},
		{sealMark, false},
	} {
		if got := unchanged(c.text); got != c.want {
			t.Errorf("unchanged is %v, want %v, for %.80q", got, c.want, c.text)
		}
	}
}
