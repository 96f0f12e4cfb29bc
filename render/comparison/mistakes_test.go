package comparison

import (
	"errors"

	"strings"
	"testing"
)

// told returns mistakes as a test states them: one line each, the hint after ->.
func told(err error) string {
	var list Errors
	if !errors.As(err, &list) {
		return "not Errors: " + err.Error()
	}
	var b strings.Builder
	for _, e := range list {
		b.WriteString(e.Error())
		if e.Hint != "" {
			b.WriteString(" -> " + e.Hint)
		}
		b.WriteByte('\n')
	}
	return strings.TrimSuffix(b.String(), "\n")
}

const (
	sceneKeysHint = "valid keys here: id, captures, start, length, speed, hold, view, single, inset, wipe, alternate, difference, window, deck, caption, marks, audio, loudness, tolerate, still, timecode, title, summary"
	capturesHint  = "captures here: alder, birch"
	videoHint     = "video: path of the recording, relative to this file"
	rateIsNot     = " is not a whole number or a fraction such as 60000/1001"
	listHint      = " -> a list is written [a, b], or with - before each item"
	oneLogHint    = "write one of the logs with fairframe measure CAPTURE -o LOG.csv, and name it after pacing:"
	neither       = " is neither a decimal such as 1.5 nor a fraction such as 3/2"
)

// Each case changes the designed example in one place and states everything
// that is said about it.
func TestMistakes(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		// Keys.
		{"unknown key", "length: 8s", "lenght: 8s",
			`c.yaml:23:5: unknown key "lenght" -> did you mean "length"? ` + sceneKeysHint},
		{"unknown key with a tab in it", "length: 8s", "\"length\\t\": 8s",
			`c.yaml:23:5: unknown key "length\t" -> did you mean "length"? ` + sceneKeysHint},
		{"slip that another mapping knows", "view: columns", "starts: 1s",
			`c.yaml:24:5: unknown key "starts" -> did you mean "start"? ` + sceneKeysHint},
		{"key with a no-break space", "view: columns", "view\u00a0: columns",
			`c.yaml:24:5: unknown key "view\u00a0" -> did you mean "view"? ` + sceneKeysHint},
		{"key in capitals", "view: columns", "View: columns", `c.yaml:24:5: unknown key "View" -> did you mean "view"? ` + sceneKeysHint},
		{"far-off key", "view: columns", "soundtrack: columns", `c.yaml:24:5: unknown key "soundtrack" -> ` + sceneKeysHint},
		{"unknown key at the top", "title: Kestrel Pass", "titel: Kestrel Pass",
			`c.yaml:1:1: unknown key "titel" -> did you mean "title"? valid keys here: title, output, captures, fonts, defaults, scenes`},
		{"unknown key of output", "  folder: out", "  dir: out", `c.yaml:3:3: unknown key "dir" -> valid keys here: folder, size, rate, delivery, codec, transfer, encoder, quality, effort, ffmpeg`},
		{"unknown key of a capture", "    name: Birch", "    nmae: Birch",
			`c.yaml:15:5: unknown key "nmae" -> did you mean "name"? valid keys here: name, detail, raster, video, pacing`},
		{"unknown key of pacing", "column: ms", "colum: ms",
			`c.yaml:18:40: unknown key "colum" -> did you mean "column"? valid keys here: file, column, means, unit, starts`},
		{"unknown key of a window", "center: [0.5, 0.5]", "centre: [0.5, 0.5]",
			`c.yaml:25:14: unknown key "centre" -> did you mean "center"? valid keys here: center, magnify, kernel, moves`},
		{"unknown key of a deck", "{place: below}", "{rate_window: 1s}",
			`c.yaml:26:12: unknown key "rate_window" -> did you mean "rate-window"? valid keys here: place, rate-axis, time-axis, rate, rate-window, tread-span, tabs`},
		{"hold after the end", "view: columns", "hold: [{at: 9s, for: 1s}]", `c.yaml:24:17: hold[1]: "9s" is after the end of the scene, which is 8s long -> at: counts scene time`},
		{"holds out of order", "view: columns", "hold: [{at: 2s, for: 1s}, {at: 2s, for: 1s}]", `c.yaml:24:36: hold[2]: "2s" is not after the hold before it -> list the holds in order of time, each instant once`},
		{"hold for nothing", "view: columns", "hold: [{at: 2s, for: 0s}]", `c.yaml:24:26: for: 0s is outside 10ms to 10m`},
		{"speed of nothing", "view: columns", "speed: 0", `c.yaml:24:12: speed: 0 is outside 1/64 to 64`},
		{"moves out of order", "magnify: 1", "moves: [{at: 2s}, {at: 1s}]", `c.yaml:25:57: moves[2]: "1s" is not after the move before it -> list the moves in order of time; held: separates moves at one instant`},
		{"id under defaults", "scenes:\n", "defaults: {id: x}\nscenes:\n",
			`c.yaml:19:12: unknown key "id" -> it belongs under scenes:; valid keys here: captures, start, length, speed, hold, view, single, inset, wipe, alternate, difference, window, deck, caption, marks, audio, loudness, tolerate, still, timecode, title, summary`},
		{"key twice", "    view: columns", "    length: 9s", `c.yaml:24:5: key "length" is set twice, first on line 23`},
		{"one video measured in two ways", "    pacing: captures/alder.csv\n", "    pacing: measure\n  cedar: {video: captures/alder.mkv, pacing: {region: [0, 0, 64, 64]}}\n",
			`c.yaml:14:3: captures: the measured logs of "alder" and "cedar" would be the same file, alder.pacing.csv -> ` + oneLogHint},
		{"capture twice", "  birch:\n", "  alder:\n",
			`c.yaml:14:3: key "alder" is set twice, first on line 8` + "\n" +
				`c.yaml:21:23: captures: no capture "birch" -> captures here: alder`},
		{"key that is a list", "title: Kestrel Pass", "[title]: Kestrel Pass", `c.yaml:1:1: a key must be a word, found a list`},
		{"key that is null", "title: Kestrel Pass", "~: Kestrel Pass", `c.yaml:1:1: a key must be a word, found nothing`},
		{"no scenes", designed[strings.Index(designed, "scenes:"):], "",
			`c.yaml:1:1: missing key "scenes" -> scenes: the stretches of play, each of which becomes a clip`},
		{"no video", "    video: captures/birch.mkv\n", "", `c.yaml:15:5: captures.birch: missing key "video" -> ` + videoHint},
		{"no id", "  - id: ridge\n    captures", "  - captures", `c.yaml:20:5: scenes[1]: missing key "id" -> id: name of the scene and of its clip's file`},
		{"no log file", "file: captures/birch.txt, ", "", `c.yaml:18:13: pacing: missing key "file" -> file: path of the log: delimited text with a header`},

		// Kinds.
		{"title a mapping", "title: Kestrel Pass", "title: {a: b}", `c.yaml:1:8: title: expected text, found a mapping`},
		{"title empty", "title: Kestrel Pass", "title:", `c.yaml:1:7: title: no value`},
		{"title null", "title: Kestrel Pass", "title: null", `c.yaml:1:8: title: no value`},
		{"output a text", "  folder: out\n  size: 1920x1080           # even numbers\n  rate: 60                  # or 60000/1001; a rational, never a float\n  delivery: web\n",
			"  out\n", `c.yaml:3:3: output: expected a mapping, found "out" -> valid keys here: folder, size, rate, delivery, codec, transfer, encoder, quality, effort, ffmpeg`},
		{"scenes a mapping", "  - id: ridge\n    captures", "    id: ridge\n    captures", `c.yaml:20:5: scenes: expected a list, found a mapping` + listHint},
		{"scene a text", "scenes:\n", "scenes:\n  - shore\n", `c.yaml:20:5: scenes[1]: expected a mapping, found "shore" -> ` + sceneKeysHint},
		{"deck a word", "{place: below}", "none", `c.yaml:26:11: deck: expected a mapping, found "none" -> valid keys here: place, rate-axis, time-axis, rate, rate-window, tread-span, tabs`},
		{"window a word", "{center: [0.5, 0.5], magnify: 1}", "full", `c.yaml:25:13: window: expected whole or a mapping such as {center: [0.5, 0.5], magnify: 1}, found "full"`},
		{"pacing a list", "pacing: captures/alder.csv", "pacing: [a, b]", `c.yaml:13:13: pacing: expected a path or a mapping, found a list -> name a pacing log, such as captures/alder.csv, or write measure`},
		{"start a list", "{alder: 3s, birch: 00:00:03.250}", "[3s, 4s]", `c.yaml:22:12: start: expected a time, found a list`},
		{"view a list", "view: columns", "view: [columns]", `c.yaml:24:11: view: expected one of auto, columns, rows, single, inset, wipe, alternate, difference, found a list`},

		// Output.
		{"odd width", "1920x1080           #", "1921x1080 #", `c.yaml:4:9: size: 1921x1080 has an odd side, which 4:2:0 video cannot have -> the nearest even size is 1920x1080`},
		{"odd sides", "1920x1080           #", "1281x721 #", `c.yaml:4:9: size: 1281x721 has an odd side, which 4:2:0 video cannot have -> the nearest even size is 1280x720`},
		{"size too large", "1920x1080           #", "7682x1080 #", `c.yaml:4:9: size: 7682x1080 has a side outside 128 to 7680`},
		{"size too small", "1920x1080           #", "1920x0 #", `c.yaml:4:9: size: 1920x0 has a side outside 128 to 7680`},
		{"hexadecimal size", "1920x1080           #", "0x1080 #", `c.yaml:4:9: size: 0x1080 has a side outside 128 to 7680`},
		{"size with spaces", "1920x1080           #", "1920 x 1080 #", `c.yaml:4:9: size: expected width x height such as 1920x1080, found "1920 x 1080" -> write 1920x1080`},
		{"size with a sign", "1920x1080           #", "1920×1080 #", `c.yaml:4:9: size: expected width x height such as 1920x1080, found "1920×1080" -> write 1920x1080`},
		{"size by lines", "1920x1080           #", "1080p #", `c.yaml:4:9: size: expected width x height such as 1920x1080, found "1080p"`},
		{"size a list", "1920x1080           #", "[1920, 1080] #", `c.yaml:4:9: size: expected width x height such as 1920x1080, found a list`},
		{"negative size", "1920x1080           #", "-1920x1080 #", `c.yaml:4:9: size: expected width x height such as 1920x1080, found "-1920x1080"`},
		{"size past 64 bits", "1920x1080           #", "99999999999999999999x2 #", `c.yaml:4:9: size: expected width x height such as 1920x1080, found "99999999999999999999x2"`},
		{"rate 59.94", "rate: 60   ", "rate: 59.94 ", `c.yaml:5:9: rate: "59.94"` + rateIsNot + ` -> write 60000/1001`},
		{"rate 29.97", "rate: 60   ", "rate: 29.97 ", `c.yaml:5:9: rate: "29.97"` + rateIsNot + ` -> write 30000/1001`},
		{"rate 23.976", "rate: 60   ", "rate: 23.976 ", `c.yaml:5:9: rate: "23.976"` + rateIsNot + ` -> write 24000/1001`},
		{"rate 59.94fps", "rate: 60   ", "rate: 59.94fps ", `c.yaml:5:9: rate: "59.94fps"` + rateIsNot + ` -> write 60000/1001`},
		{"rate 60.0", "rate: 60   ", "rate: 60.0 ", `c.yaml:5:9: rate: "60.0"` + rateIsNot + ` -> write 60`},
		{"rate 12.5", "rate: 60   ", "rate: 12.5 ", `c.yaml:5:9: rate: "12.5"` + rateIsNot + ` -> write 25/2`},
		{"rate 60 Hz", "rate: 60   ", "rate: 60 Hz ", `c.yaml:5:9: rate: "60 Hz"` + rateIsNot + ` -> write 60`},
		{"rate not a number", "rate: 60   ", "rate: .nan ", `c.yaml:5:9: rate: ".nan"` + rateIsNot},
		{"rate negative", "rate: 60   ", "rate: -60 ", `c.yaml:5:9: rate: "-60"` + rateIsNot},
		{"rate zero", "rate: 60   ", "rate: 0 ", `c.yaml:5:9: rate: "0" is outside 1 to 240 frames a second`},
		{"rate over zero", "rate: 60   ", "rate: 60/0 ", `c.yaml:5:9: rate: "60/0" is outside 1 to 240 frames a second`},
		{"rate 241", "rate: 60   ", "rate: 241 ", `c.yaml:5:9: rate: "241" is outside 1 to 240 frames a second`},
		{"rate past 64 bits", "rate: 60   ", "rate: 99999999999999999999/99999999999999999999 ", `c.yaml:5:9: rate: "99999999999999999999/99999999999999999999" is outside 1 to 240 frames a second`},
		{"delivery", "delivery: web", "delivery: wbe", `c.yaml:6:13: delivery: unknown value "wbe" -> did you mean "web"? valid values: web, hevc, av1, hdr, edit, dnxhr, lossless, overlay, gif, webp`},
		{"delivery of another kind", "delivery: web", "delivery: broadcast", `c.yaml:6:13: delivery: unknown value "broadcast" -> valid values: web, hevc, av1, hdr, edit, dnxhr, lossless, overlay, gif, webp`},
		{"empty folder", "folder: out", `folder: ""`, `c.yaml:3:11: folder: the path is empty`},

		// Captures.
		{"one capture", designed[strings.Index(designed, "  birch:"):strings.Index(designed, "scenes:")], "",
			`c.yaml:16:23: captures: no capture "birch" -> captures here: alder`},
		{"key with a slash", "  birch:\n", "  bi/rch:\n",
			`c.yaml:14:3: captures: "bi/rch" cannot be a key -> ` + identifierRule + "\n" +
				`c.yaml:21:23: captures: no capture "birch" -> did you mean "bi/rch"? captures here: alder, bi/rch`},
		{"reserved key", "  birch:\n", "  mix:\n",
			`c.yaml:14:3: captures: "mix" cannot be a key, it has a meaning of its own -> choose another key and set name: to what is shown` + "\n" +
				`c.yaml:21:23: captures: no capture "birch" -> captures here: alder, mix`},
		{"empty name", "name: Birch", `name: " "`, `c.yaml:15:11: name: is empty -> remove the key to use its default`},
		{"long name", "name: Birch", "name: " + strings.Repeat("é", 81), `c.yaml:15:11: name: 81 characters long, at most 80 are allowed`},
		{"name of two lines", "name: Birch", `name: "Bi\nrch"`, `c.yaml:15:11: name: holds a line break, but is shown on one line`},
		{"name with a bell", "name: Birch", `name: "Birch\a!"`, `c.yaml:15:11: name: holds the control character U+0007`},
		{"raster of one side", "raster: 1408x792 ", "raster: 1408 ", `c.yaml:11:13: raster: expected width x height such as 1920x1080, found "1408"`},
		{"raster too small", "raster: 1408x792 ", "raster: 8x792 ", `c.yaml:11:13: raster: 8x792 has a side outside 16 to 16384`},
		{"video with a zero byte", "video: captures/birch.mkv", `video: "a\0b"`, `c.yaml:17:12: video: the path "a\x00b" holds a control character -> between " and " a \ begins an escape: write paths with /`},
		{"video with backslashes", "video: captures/birch.mkv", `video: "caps\Birch.mkv"`, `c.yaml:17:5: not YAML: found unknown escape character -> between " and " a \ begins an escape: write paths with /`},
		{"measured region of nothing", "pacing: captures/alder.csv", "pacing: {region: [0, 0, 0, 90]}",
			`c.yaml:13:29: region: "0" is no width`},
		{"measured region too short", "pacing: captures/alder.csv", "pacing: {ignore: [[1, 2, 3]]}",
			`c.yaml:13:23: ignore[1]: expected [x, y, width, height] in pixels of the capture, found a list of 3`},
		{"measured log", "pacing: captures/alder.csv", "pacing: {file: a.csv, region: [0, 0, 9, 9]}",
			`c.yaml:13:14: unknown key "file" -> it belongs under captures: pacing:; valid keys here: region, ignore, tears, measure`},
		{"measured not", "pacing: captures/alder.csv", "pacing: {measure: false, tears: none}",
			`c.yaml:13:13: pacing: measure: false says nothing -> name a pacing log, such as captures/alder.csv, or write measure`},
		{"tears unknown", "pacing: captures/alder.csv", "pacing: {tears: no}",
			`c.yaml:13:21: tears: unknown value "no" -> valid values: search, none`},
		{"no pacing", "    pacing: captures/alder.csv\n", "",
			`c.yaml:8:3: captures.alder: no pacing, which the deck of scene "ridge" needs -> add pacing: with the path of a pacing log or with measure, or set deck: {place: none}`},
		{"summary in frames", "view: columns", "summary: f240",
			`c.yaml:24:14: summary: "f240" counts frames, which this span does not -> spans are written 1s, 250ms, 1.5s or 00:00:01.500`},
		{"summary too long", "view: columns", "summary: 61s", `c.yaml:24:14: summary: 61s is outside 0s to 1m`},
		{"unknown meaning", "means: frame-time", "means: frametime",
			`c.yaml:18:59: means: unknown value "frametime" -> did you mean "frame-time"? valid values: frame-time, time-stamp, new-frame`},
		{"unknown unit", "unit: ms", "unit: sec",
			`c.yaml:18:77: unit: unknown value "sec" -> valid values: s, ms, us, ns`},
		{"unit of flags", "means: frame-time", "means: new-frame", `c.yaml:18:76: pacing: new-frame has no unit -> remove unit`},
		{"meaning without column", "column: ms, ", "",
			`c.yaml:18:47: pacing: means says nothing without column -> name the column that it is about` + "\n" +
				`c.yaml:18:65: pacing: unit says nothing without column -> name the column that it is about`},
		{"several at once", "title: Kestrel Pass\noutput:\n  folder: out\n  size: 1920x1080           #", "tilte: Kestrel Pass\noutput:\n  folder: out\n  size: 1921x1080 #",
			`c.yaml:1:1: unknown key "tilte" -> did you mean "title"? valid keys here: title, output, captures, fonts, defaults, scenes` + "\n" +
				`c.yaml:4:9: size: 1921x1080 has an odd side, which 4:2:0 video cannot have -> the nearest even size is 1920x1080`},
		{"column without meaning", "means: frame-time, unit: ms, ", "",
			`c.yaml:18:48: pacing: does not say what column "ms" means -> add means: with one of frame-time, time-stamp, new-frame`},
		{"starts without a unit", "starts: 0s", "starts: 0",
			`c.yaml:18:89: starts: a time needs a unit, found "0" -> write 0s for seconds or 0ms for milliseconds`},
		{"starts by frames", "starts: 0s", "starts: f12",
			`c.yaml:18:89: starts: "f12" counts frames, which this span does not -> spans are written 1s, 250ms, 1.5s or 00:00:01.500`},
		{"starts too late", "starts: 0s", "starts: 25h",
			`c.yaml:18:89: starts: "25h" is more than 24 h`},

		// Scenes.
		{"id with a slash", "id: ridge", "id: a/b", `c.yaml:20:9: id: "a/b" cannot name a file everywhere -> ` + identifierRule},
		{"hidden id", "id: ridge", "id: .ridge", `c.yaml:20:9: id: ".ridge" cannot name a file everywhere -> ` + identifierRule},
		{"id like a flag", "id: ridge", "id: -ridge", `c.yaml:20:9: id: "-ridge" cannot name a file everywhere -> ` + identifierRule},
		{"id with an accent", "id: ridge", "id: crête", `c.yaml:20:9: id: "crête" cannot name a file everywhere -> ` + identifierRule},
		{"long id", "id: ridge", "id: " + strings.Repeat("r", 65), `c.yaml:20:9: id: "` + strings.Repeat("r", 60) + `…" cannot name a file everywhere -> ` + identifierRule},
		{"id with a space at its end", "id: ridge", `id: "ridge "`, `c.yaml:20:9: id: "ridge " cannot name a file everywhere -> ` + identifierRule},
		{"device", "id: ridge", "id: Aux", `c.yaml:20:9: id: "Aux" is the name of a device on Windows -> choose another name`},
		{"device with an ending", "id: ridge", "id: com1.a", `c.yaml:20:9: id: "com1.a" is the name of a device on Windows -> choose another name`},
		{"full stop", "id: ridge", "id: ridge.", `c.yaml:20:9: id: "ridge." ends in a full stop, which Windows removes -> remove the last full stop`},
		{"same id", "scenes:\n", "scenes:\n  - {id: ridge, captures: [alder, birch], start: 1s, length: 1s}\n", `c.yaml:21:9: id: "ridge" is taken, by the scene on line 20`},
		{"same id but for case", "scenes:\n", "scenes:\n  - {id: Ridge, captures: [alder, birch], start: 1s, length: 1s}\n",
			`c.yaml:21:9: id: "ridge" differs only in case from "Ridge" on line 20 -> file names on Windows and macOS ignore case`},
		{"no scene in the list", designed[strings.Index(designed, "\n  - id"):], " []\n", `c.yaml:19:9: scenes: expected 1 to 2000, found 0`},
		{"one capture shown", "[alder, birch]", "[alder]",
			`c.yaml:22:24: start: capture "birch" is not in this scene -> captures of this scene: alder`},
		{"a wipe of one", "[alder, birch]             # two or three, in the order shown\n    start: {alder: 3s, birch: 00:00:03.250}\n    length: 8s\n    view: columns", "[alder]\n    start: 3s\n    length: 8s\n    view: wipe",
			`c.yaml:24:11: view: wipe takes 2 to 4 captures, scene "ridge" shows 1 -> set view: columns, or name more captures`},
		{"two ears of one", "[alder, birch]             # two or three, in the order shown\n    start: {alder: 3s, birch: 00:00:03.250}\n    length: 8s\n    view: columns", "[alder]\n    start: 3s\n    length: 8s\n    audio: ears",
			`c.yaml:24:12: audio: ears takes two captures, scene "ridge" shows one -> set audio: alder`},
		{"none shown", "    captures: [alder, birch]             # two or three, in the order shown\n", "",
			`c.yaml:20:5: scene "ridge" shows no captures -> add captures: with the keys of one to four`},
		{"five shown", "[alder, birch]", "[alder, birch, alder, birch, birch]",
			`c.yaml:21:15: captures: expected 1 to 4, found 5` + "\n" +
				`c.yaml:21:30: captures: "alder" is shown twice` + "\n" +
				`c.yaml:21:37: captures: "birch" is shown twice`},
		{"twice shown", "[alder, birch]", "[alder, birch, alder]", `c.yaml:21:30: captures: "alder" is shown twice`},
		{"unknown capture", "[alder, birch]", "[alder, brich]",
			`c.yaml:21:23: captures: no capture "brich" -> did you mean "birch"? captures here: alder, birch`},
		{"no start", "    start: {alder: 3s, birch: 00:00:03.250}\n", "",
			`c.yaml:20:5: scene "ridge" has no start for alder, birch -> start: {alder: 3s, birch: 3s} names the first instant shown of each`},
		{"start of one", "{alder: 3s, birch: 00:00:03.250}", "{alder: 3s}",
			`c.yaml:22:12: scene "ridge" has no start for birch -> start: {alder: 3s, birch: 3s} names the first instant shown of each`},
		{"start of a stranger", "{alder: 3s, birch: 00:00:03.250}", "{alder: 3s, birch: 1s, brich: 1s}",
			`c.yaml:22:35: start: no capture "brich" -> did you mean "birch"? captures here: alder, birch`},
		{"start without a unit", "alder: 3s", "alder: 3",
			`c.yaml:22:20: start.alder: a time needs a unit, found "3" -> write 3s for seconds or 3ms for milliseconds, or f3 for a frame number`},
		{"start before the beginning", "alder: 3s", "alder: -3s",
			`c.yaml:22:20: start.alder: "-3s" is before the beginning -> times count from the first frame of a capture and are never negative`},
		{"empty start", "{alder: 3s, birch: 00:00:03.250}", "{}",
			`c.yaml:22:12: start: expected 1 to 100, found 0`},
		{"length without a unit", "length: 8s", "length: 8",
			`c.yaml:23:13: length: a time needs a unit, found "8" -> write 8s for seconds or 8ms for milliseconds, or f8 for a frame number`},
		{"length of nothing", "length: 8s", "length: 0s",
			`c.yaml:23:13: length: "0s" is no time at all`},
		{"length in drop-frame", "length: 8s", "length: 00:00:08;00",
			`c.yaml:23:13: length: "00:00:08;00": drop-frame timecode is not defined at 60 frames a second -> drop-frame belongs to 30000/1001 and 60000/1001; elsewhere write 00:01:30:15`},
		{"no length", "    length: 8s\n", "",
			`c.yaml:20:5: scene "ridge" has no length -> add length: 8s here or under defaults:`},
		{"options of another view", "view: columns", "view: rows\n    wipe: {at: 0.4}",
			`c.yaml:25:11: wipe: says nothing with view rows -> set view: wipe, or remove wipe:`},
		{"single of no capture", "view: columns", "view: single\n    single: ceder",
			`c.yaml:25:13: single: no capture "ceder" -> did you mean "alder"? captures of this scene: alder, birch`},
		{"lines of a wipe", "view: columns", "view: wipe\n    wipe: {at: [0.2, 0.8]}",
			`c.yaml:25:16: at: 2 of 1 lines -> two captures are divided by one line, such as at: 0.4`},
		{"place of a line", "view: columns", "view: wipe\n    wipe: {at: 1.4}",
			`c.yaml:25:16: at: 1.4 is outside 0 to 1 -> 0 is the left or upper edge, 1 the right or lower one`},
		{"keys and swing", "view: columns", "view: wipe\n    wipe: {swing: 4s, keys: [{t: 0s, at: 0.4}]}",
			`c.yaml:25:19: swing: the line follows keys: already -> remove one of the two`},
		{"keys out of order", "view: columns", "view: wipe\n    wipe: {keys: [{t: 1s, at: 0.4}, {t: 1s, at: 0.6}]}",
			`c.yaml:25:41: t: "1s" is not after the key before it`},
		{"swing at the edge", "view: columns", "view: wipe\n    wipe: {swing: 4s, at: 0.1}",
			`c.yaml:25:19: swing: there is no room for it -> a line swings about at:, which lies between 0.1 and 0.9`},
		{"angle", "view: columns", "view: wipe\n    wipe: {angle: 120}",
			`c.yaml:25:19: angle: "120" is no whole number from -90 to 90`},
		{"two ways to alternate", "view: columns", "view: alternate\n    alternate: {every: 1s, at: [2s]}",
			`c.yaml:25:24: every: the times are given by at: already -> remove one of the two`},
		{"turn at the beginning", "view: columns", "view: alternate\n    alternate: {at: [0s]}",
			`c.yaml:25:22: at: "0s" is not after the time before it -> the first capture is shown from 0s to the first time, the next one from there on`},
		{"gain", "view: columns", "view: difference\n    difference: {gain: 100}",
			`c.yaml:25:24: gain: 100 is outside 1/4 to 64`},
		{"unknown view", "view: columns", "view: column",
			`c.yaml:24:11: view: unknown value "column" -> did you mean "columns"? valid values: auto, columns, rows, single, inset, wipe, alternate, difference`},
		{"unknown fault", "view: columns", "tolerate: [gaps, holes]",
			`c.yaml:24:22: tolerate: unknown value "holes" -> valid values: none, decode-errors, gaps`},
		{"fault named twice", "view: columns", "tolerate: [gaps, gaps]",
			`c.yaml:24:22: tolerate: "gaps" is there twice`},
		{"fault and none", "view: columns", "tolerate: [gaps, none]",
			`c.yaml:24:15: tolerate: none allows nothing beside it -> remove none, or what stands beside it`},
		{"list of no faults", "view: columns", "tolerate: []",
			`c.yaml:24:15: tolerate: the list is empty -> write none`},
		{"faults in a mapping", "view: columns", "tolerate: {gaps: true}",
			`c.yaml:24:15: tolerate: expected one of none, decode-errors, gaps, found a mapping`},
		{"center outside", "[0.5, 0.5]", "[0.5, 1.5]",
			`c.yaml:25:28: center: 1.5 is outside 0 to 1 -> [0.5, 0.5] is the middle, [0, 0] the top left corner`},
		{"center negative", "[0.5, 0.5]", "[-0.5, 0.5]",
			`c.yaml:25:23: center: "-0.5" is neither a decimal such as 1.5 nor a fraction such as 3/2`},
		{"center of three", "[0.5, 0.5]", "[0.5, 0.5, 0.5]",
			`c.yaml:25:22: center: expected [x, y] with fractions from 0 to 1, found a list of 3`},
		{"center of words", "[0.5, 0.5]", "[left, {}]",
			`c.yaml:25:23: center: "left" is neither a decimal such as 1.5 nor a fraction such as 3/2` + "\n" +
				`c.yaml:25:29: center: expected a number, found a mapping`},
		{"center a number", "[0.5, 0.5]", "0.5",
			`c.yaml:25:22: center: expected [x, y] with fractions from 0 to 1, found "0.5"`},
		{"magnify nothing", "magnify: 1", "magnify: 0",
			`c.yaml:25:43: magnify: 0 is outside 1/64 to 64`},
		{"magnify too much", "magnify: 1", "magnify: 64.1",
			`c.yaml:25:43: magnify: 64.1 is outside 1/64 to 64`},
		{"magnify infinitely", "magnify: 1", "magnify: .inf",
			`c.yaml:25:43: magnify: ".inf" is neither a decimal such as 1.5 nor a fraction such as 3/2`},
		{"magnify with an x", "magnify: 1", "magnify: 3x",
			`c.yaml:25:43: magnify: "3x" is neither a decimal such as 1.5 nor a fraction such as 3/2`},
		{"unknown kernel", "magnify: 1", "kernel: bilinear",
			`c.yaml:25:42: kernel: unknown value "bilinear" -> valid values: nearest, bicubic, lanczos`},
		{"window of one", "{center: [0.5, 0.5], magnify: 1}", "{alder: whole}",
			`c.yaml:25:13: scene "ridge" has no window for birch -> a window is whole or such as {center: [0.5, 0.5], magnify: 1}`},
		{"window of a stranger", "{center: [0.5, 0.5], magnify: 1}", "{alder: whole, brich: {magnify: 2}}",
			`c.yaml:25:28: window: no capture "brich" -> did you mean "birch"? captures here: alder, birch`},
		{"capture and key mixed", "{center: [0.5, 0.5], magnify: 1}", "{alder: whole, magnify: 2}",
			`c.yaml:25:28: window: no capture "magnify" -> captures here: alder, birch` + "\n" +
				`c.yaml:25:37: window.magnify: expected whole or a mapping such as {center: [0.5, 0.5], magnify: 1}, found "2"`},
		{"unknown place", "{place: below}", "{place: above}",
			`c.yaml:26:19: place: unknown value "above" -> valid values: below, over, none`},
		{"axis of one", "{place: below}", "{rate-axis: [60]}",
			`c.yaml:26:23: rate-axis: expected [lowest, highest], found a list of 1`},
		{"axis upside down", "{place: below}", "{rate-axis: [70, 0]}",
			`c.yaml:26:23: rate-axis: the lower end 70 is not below the upper end 0`},
		{"axis too far", "{place: below}", "{time-axis: [0, 10001]}",
			`c.yaml:26:27: time-axis: 10001 is outside 0 to 10000`},
		{"axis negative", "{place: below}", "{time-axis: [-1, 10]}",
			`c.yaml:26:24: time-axis: "-1" is neither a decimal such as 1.5 nor a fraction such as 3/2`},
		{"span without a unit", "{place: below}", "{rate-window: 1}",
			`c.yaml:26:25: rate-window: a time needs a unit, found "1" -> write 1s for seconds or 1ms for milliseconds`},
		{"span of nothing", "{place: below}", "{tread-span: 0s}",
			`c.yaml:26:24: tread-span: 0s is outside 100ms to 1m`},
		{"span negative", "{place: below}", "{tread-span: -1s}",
			`c.yaml:26:24: tread-span: "-1s" is before the beginning -> times count from the first frame of a capture and are never negative`},
		{"span of frames", "{place: below}", "{tread-span: f90}",
			`c.yaml:26:24: tread-span: "f90" counts frames, which this span does not -> spans are written 1s, 250ms, 1.5s or 00:00:01.500`},
		{"span in timecode", "{place: below}", "{tread-span: 00:00:01:30}",
			`c.yaml:26:24: tread-span: "00:00:01:30" counts frames, which this span does not -> spans are written 1s, 250ms, 1.5s or 00:00:01.500`},
		{"tabs yes", "{place: below}", "{tabs: yes}",
			`c.yaml:26:18: tabs: expected true or false, found "yes"`},
		{"tabs quoted", "{place: below}", `{tabs: "true"}`,
			`c.yaml:26:18: tabs: expected true or false, found "true"`},
		{"caption of two lines", "caption: Launch from the north ridge, clear sky", "caption: |\n      Launch\n      Sky",
			`c.yaml:27:14: caption: holds a line break, but is shown on one line`},
		{"caption with a colon", "caption: Launch from the north ridge, clear sky", "caption: Launch: sky",
			`c.yaml:27:5: not YAML: mapping values are not allowed in this context -> text that holds ': ' needs quotes, such as caption: "Ridge: clear sky"`},
		{"loudness above full scale", "view: columns", "loudness: 14",
			`c.yaml:24:15: loudness: "14" is outside -50 to -5 LUFS -> write -14`},
		{"loudness with a unit", "view: columns", "loudness: -23 LUFS",
			`c.yaml:24:15: loudness: "-23 LUFS" is outside -50 to -5 LUFS -> write -23`},
		{"loudness in words", "view: columns", "loudness: loud",
			`c.yaml:24:15: loudness: expected a loudness in LUFS such as -14 or -23, found "loud" -> remove the key to keep the sound as it is`},
		{"misspelt audio", "view: columns", "audio: mixx",
			`c.yaml:24:12: audio: no capture "mixx" -> did you mean "mix"? valid values: alder, birch, mix, ears, none`},
		{"unknown audio", "view: columns", "audio: adler",
			`c.yaml:24:12: audio: no capture "adler" -> did you mean "alder"? valid values: alder, birch, mix, ears, none`},
		{"audio off", "view: columns", "audio: off",
			`c.yaml:24:12: audio: no capture "off" -> valid values: alder, birch, mix, ears, none`},

		// Fonts and defaults.
		{"unknown font", "scenes:\n", "fonts: {italic: a.ttf}\nscenes:\n",
			`c.yaml:19:9: unknown key "italic" -> valid keys here: text, bold`},
		{"stranger under defaults", "scenes:\n", "defaults: {start: {brich: 1s}, window: {adler: whole}}\nscenes:\n",
			`c.yaml:19:20: start: no capture "brich" -> did you mean "birch"? captures here: alder, birch` + "\n" +
				`c.yaml:19:41: window: no capture "adler" -> did you mean "alder"? captures here: alder, birch`},
		{"mistake under defaults once", "scenes:\n", "defaults: {audio: cedar}\nscenes:\n  - {id: a, captures: [alder, birch], start: 1s, length: 1s}\n",
			`c.yaml:19:19: audio: no capture "cedar" -> valid values: alder, birch, mix, ears, none`},

		// YAML.
		{"tab", "    view: columns", "\tview: columns",
			`c.yaml:24:1: a tab stands where spaces indent -> indent with spaces`},
		{"alias", "view: columns", "caption: *text*",
			`c.yaml:24:5: not YAML: did not find expected alphabetic or numeric character -> text that begins with * or & needs quotes`},
		{"known alias", "view: columns", "view: &v columns\n    audio: *v",
			`c.yaml:24:11: anchors such as &v are not used here -> write the value out; what scenes share goes under defaults:` + "\n" +
				`c.yaml:25:12: aliases such as *v are not used here -> write the value out; what scenes share goes under defaults:`},
		{"anchor", "view: columns", "view: &v columns",
			`c.yaml:24:11: anchors such as &v are not used here -> write the value out; what scenes share goes under defaults:`},
		{"merge key", "view: columns", "<<: {view: columns}",
			`c.yaml:24:5: merge keys are not used here -> write the value out; what scenes share goes under defaults:`},
		{"tag", "view: columns", "view: !!str columns",
			`c.yaml:24:11: tags such as !!str are not used here -> remove the tag; text that begins with ! needs quotes`},
		{"at sign", "caption: Launch from the north ridge, clear sky", "caption: @launch",
			"c.yaml:27:5: not YAML: found character that cannot start any token -> text that begins with @, ` or % needs quotes"},
		{"unclosed list", "[alder, birch]", "[alder, birch",
			`c.yaml:21:5: not YAML: did not find expected ',' or ']' -> text that holds ': ' or a comma needs quotes`},
		{"indentation", "    view: columns", "   view: columns",
			`c.yaml:24:4: not YAML: did not find expected '-' indicator`},
		{"second document", "scenes:\n", "---\nscenes:\n",
			`c.yaml:19:1: a second YAML document begins here; a comparison file has only one -> put all scenes under one scenes:`},
	} {
		if strings.Count(designed, c.old) != 1 {
			t.Fatalf("%s: %q is not in the example once", c.name, c.old)
		}
		f, err := Parse("c.yaml", []byte(strings.Replace(designed, c.old, c.new, 1)))
		if err == nil {
			t.Errorf("%s: %+v, want\n%s", c.name, f.Scenes, c.want)
		} else if got := told(err); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}
