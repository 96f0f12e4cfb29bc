package comparison

import (
	"errors"
	"strings"
	"testing"
	"time"

	"fairframe/render/pacing"
)

func FuzzParse(f *testing.F) {
	for _, text := range []string{
		designed, rich, "", "---\n...\n", "a: &a [*a]", "? [a]\n: b", "title: \"\\u2028\"\n", "captures: {<<: {}}", "\ttitle: x",
		"scenes: [{}]", "scenes:\n- id: a\n  start: {a: 1s}\n  window: {a: whole}", "captures: {a: {pacing: {column: x}}, b: {}}", "fonts: !!binary aGk=",
		"title: |\n  a\n  b\n", "output: {size: 0x0, rate: 1/0}", "defaults: {window: {a: {center: [1/3, 0.]}}}",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := Parse("c.yaml", data)
		if err != nil {
			var list Errors
			if file != nil || !errors.As(err, &list) || len(list) == 0 || len(list) > maxErrors+1 {
				t.Fatalf("%v, %v", file, err)
			}
			for _, e := range list {
				if e.Msg == "" || strings.ContainsAny(e.Error(), "\n\x00") || len(list) <= maxErrors && (e.Line < 1 || e.Col < 1) {
					t.Errorf("%+v", e)
				}
			}
			return
		}
		if len(file.Scenes) == 0 {
			t.Fatal("no scenes")
		}
		size := file.Output.Size
		if size.X%2 != 0 || size.Y%2 != 0 || size.X < 128 || size.Y > 7680 || !file.Output.Rate.Valid() {
			t.Errorf("%+v", file.Output)
		}
		for i := range file.Scenes {
			s, err := file.Scene(file.Scenes[i].ID)
			if err != nil || s != &file.Scenes[i] || s.Length <= 0 || s.Length > maxTime || len(s.Captures) < 2 || len(s.Captures) > 3 ||
				len(s.Start) != len(s.Captures) || len(s.Window) != len(s.Captures) {
				t.Errorf("%+v, %v", s, err)
			}
			for _, key := range s.Captures {
				c, ok := file.Capture(key)
				if w := s.Window[key]; !ok || c.Video == "" || !w.Whole && (w.Magnify.Num <= 0 || w.Center.X.Cmp(Ratio{Num: 1, Den: 1}) > 0) {
					t.Errorf("%s: %+v, %+v", key, c, w)
				}
				if s.Deck.Place != DeckNone && !c.Pacing.Given() {
					t.Errorf("%s has a deck, %s no pacing", s.ID, key)
				}
			}
			if len(file.Canonical(s)) == 0 {
				t.Error("no canonical form")
			}
		}
	})
}

func FuzzTime(f *testing.F) {
	for _, s := range []string{
		"8s", "250ms", "1m30s", "1.5s", "00:01:30.500", "00:01:30:15", "00:01:30;15", "f1234", "8", "-1s", "24h", "24h0.4ns", "23:59:59;59", "00:01:00;00",
		"f5184000", "99999999999h", "1.99999999999999999999999s", "00:00:00:999", "µs", "1µs", "NaN", "",
	} {
		f.Add(s)
	}
	rates := []pacing.Rate{fps60, ntsc60, ntsc30, {Num: 24000, Den: 1001}, {Num: 120, Den: 1}, {Num: 1, Den: 1}, {Num: 25, Den: 2}}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := ParseTime(s)
		if err != nil {
			return
		}
		if v.String() != s {
			t.Errorf("%q prints as %q", s, v)
		}
		for _, r := range rates {
			d, err := v.At(r)
			if err != nil {
				if v.form == duration {
					t.Errorf("%q at %v: %v", s, r, err)
				}
				continue
			}
			if d < 0 || d > maxTime+time.Minute*2 {
				t.Errorf("%q at %v: %v", s, r, d)
			}
			switch v.form {
			case code:
				// Labels come back as they were written, but for leading zeros of the frames.
				label, err := Timecode(r.FrameAt(d), r, v.code.drop)
				if err != nil || label != v.code.String() {
					t.Errorf("%q at %v: %v, which is %q, %v", s, r, d, label, err)
				}
			case frame:
				if r.FrameAt(d) != v.n {
					t.Errorf("%q at %v: %v, which is frame %d", s, r, d, r.FrameAt(d))
				}
			}
			again := Time{written: "x", d: d}
			if back, err := again.At(r); err != nil || back != d {
				t.Errorf("%v: %v, %v", d, back, err)
			}
		}
	})
}
