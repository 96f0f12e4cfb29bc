package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"fairframe/render/figures"
)

// csvColumn is one column of figures --format csv. The cell is what stands at path in the
// capture's part of the JSON document; text, if set, makes it instead.
type csvColumn struct {
	name, path string
	text       func(s *figures.Scene, c *figures.Capture) string
}

// csvMultiples are the refresh multiples with a column of their own.
const csvMultiples = 4

// csvColumns are all of them, in order. Cells are empty where there is nothing to
// tell from.
func csvColumns() []csvColumn {
	columns := []csvColumn{
		{name: "scene", text: func(s *figures.Scene, _ *figures.Capture) string {
			return noFormula(s.Scene.ID)
		}},
		{name: "capture", path: "capture"}, {name: "name", path: "name"}, {name: "start_s", path: "start_s"},
		{name: "length_s", text: func(s *figures.Scene, _ *figures.Capture) string {
			return decimal(s.Scene.Length.Seconds())
		}},
		{name: "refresh_hz", path: "refresh_hz"},
		{name: "raster", text: func(_ *figures.Scene, c *figures.Capture) string {
			if c.Raster.X == 0 {
				return ""
			}
			return fmt.Sprintf("%dx%d", c.Raster.X, c.Raster.Y)
		}},
		{name: "pixel_ratio", text: func(_ *figures.Scene, c *figures.Capture) string {
			return c.PixelRatio
		}},
	}
	add := func(prefix, path string, names ...string) {
		for _, n := range names {
			columns = append(columns, csvColumn{name: prefix + n, path: path + n})
		}
	}
	frameTimes := []string{"mean_ms", "deviation_ms", "median_ms", "p95_ms", "p99_ms", "longest_ms"}
	add("", "", append([]string{"frames", "mean_fps", "slowest_1_percent_fps"}, frameTimes...)...)
	for n := 1; n <= csvMultiples; n++ {
		columns = append(columns, csvColumn{name: fmt.Sprintf("share_%d_refreshes", n),
			text: csvShare(func(m int) bool { return m == n })})
	}
	columns = append(columns,
		csvColumn{name: "share_more_refreshes", text: csvShare(func(m int) bool { return m > csvMultiples })},
		csvColumn{name: "share_off_grid", path: "off_grid_share"},
		csvColumn{name: "hitches", text: func(_ *figures.Scene, c *figures.Capture) string {
			return strconv.Itoa(len(c.Figures.Hitches))
		}},
		csvColumn{name: "hitch_ms", path: "hitch_ms"},
		csvColumn{name: "hitch_times_s", text: func(_ *figures.Scene, c *figures.Capture) string {
			var times []string
			for _, f := range c.Figures.Hitches {
				times = append(times, decimal(c.InScene(f.Begin).Seconds()))
			}
			return strings.Join(times, " ")
		}})
	add("", "", "torn", "doubtful", "doubtful_share", "seen_s", "still_s", "unknown_s", "never_shown",
		"ceiling_s")
	add("change_", "difference.", "mean_fps", "mean_percent", "slowest_1_percent_fps")
	add("change_", "difference.", append(frameTimes, "hitches", "torn")...)
	columns = append(columns, csvSound()...)
	return append(columns, csvColumn{name: "spans", text: func(_ *figures.Scene, c *figures.Capture) string {
		return strings.Join(c.Sentences(), "; ")
	}})
}

// csvSound are the columns of the sound.
func csvSound() []csvColumn {
	columns := []csvColumn{{name: "sound_s", path: "sound.heard_s"},
		{name: "loudness_lufs", path: "sound.integrated_lufs"},
		{name: "loudness_range_lu", path: "sound.range_lu"},
		{name: "true_peak_dbtp", path: "sound.true_peak_dbtp"}}
	var changes []csvColumn
	for i, b := range figures.Bands() {
		name := "octave_" + strings.ReplaceAll(trimmed(b.Nominal), ".", "_") + "_hz_db"
		path := fmt.Sprintf("octaves.%d.", i)
		columns = append(columns, csvColumn{name: name, path: "sound." + path + "level_db"})
		changes = append(changes,
			csvColumn{name: "change_" + name, path: "sound_difference." + path + "change_db"},
			csvColumn{name: "chance_" + name, path: "sound_difference." + path + "chance_db"})
	}
	columns = append(columns, csvColumn{name: "change_loudness_lu", path: "sound_difference.integrated_lu"},
		csvColumn{name: "change_loudness_range_lu", path: "sound_difference.range_lu"},
		csvColumn{name: "change_true_peak_db", path: "sound_difference.true_peak_db"})
	return append(columns, changes...)
}

// csvShare is the share of the time in frames whose refresh multiple is kept.
func csvShare(keep func(multiple int) bool) func(*figures.Scene, *figures.Capture) string {
	return func(_ *figures.Scene, c *figures.Capture) string {
		if c.Figures.Seen == 0 {
			return ""
		}
		sum := 0.0
		for _, s := range c.Figures.Shares {
			if keep(s.Multiple) {
				sum += s.Part
			}
		}
		return decimal(sum)
	}
}

// jsonCell returns what stands at a path in a JSON document, such as "octaves.3.level_db", as a
// cell; null makes an empty one.
func jsonCell(doc any, path string) string {
	for key := range strings.SplitSeq(path, ".") {
		switch at := doc.(type) {
		case map[string]any:
			doc = at[key]
		case []any:
			i, _ := strconv.Atoi(key)
			doc = at[i]
		}
	}
	switch v := doc.(type) {
	case nil:
		return ""
	case string:
		return noFormula(v)
	default:
		return fmt.Sprint(v)
	}
}

// writeFiguresCSV writes one row a capture of each scene, as RFC 4180 has it but
// with line feeds. Differences (change_…) are against the scene's first capture.
func writeFiguresCSV(w io.Writer, scenes []*figures.Scene) error {
	columns := csvColumns()
	var heading []string
	for _, c := range columns {
		heading = append(heading, c.name)
	}
	rows := [][]string{heading}
	for _, s := range scenes {
		for i := range s.Captures {
			c := &s.Captures[i]
			text, err := json.Marshal(captureDocument(c, s.Captures[0]))
			if err != nil {
				return err
			}
			var doc any
			numbers := json.NewDecoder(bytes.NewReader(text))
			numbers.UseNumber() // keeps them as they are written
			if err := numbers.Decode(&doc); err != nil {
				return err
			}
			var row []string
			for _, column := range columns {
				if column.text != nil {
					row = append(row, column.text(s, c))
				} else {
					row = append(row, jsonCell(doc, column.path))
				}
			}
			rows = append(rows, row)
		}
	}
	return csv.NewWriter(w).WriteAll(rows)
}

// noFormula keeps a spreadsheet from taking a text for a formula, as OWASP advises ("CSV
// Injection"): an apostrophe goes before what would make it one.
func noFormula(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// decimal writes a number with up to six decimals.
func decimal(v float64) string { return strconv.FormatFloat(rounded(v), 'f', -1, 64) }
