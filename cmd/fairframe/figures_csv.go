package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"fairframe/render/figures"
)

// captured is what figures know of one capture in one scene.
type captured = *figures.Capture

// csvValue is the text of one cell.
type csvValue func(s *figures.Scene, c captured) string

// csvColumn is one column of figures --format csv.
type csvColumn struct {
	name  string
	value csvValue
}

// csvMultiples are the refresh multiples with a column of their own.
const csvMultiples = 4

// csvColumns are all of them, in order. Cells are empty where there is nothing to
// tell from.
func csvColumns() []csvColumn {
	columns := append(csvScene(), csvShares()...)
	columns = append(columns, csvCounts()...)
	columns = append(columns, csvChanges()...)
	columns = append(columns, soundColumns()...)
	spans := csvPlain(func(c captured) string { return strings.Join(c.Sentences(), "; ") })
	return append(columns, csvColumn{"spans", spans})
}

func csvPlain(get func(c captured) string) csvValue {
	return func(_ *figures.Scene, c captured) string { return get(c) }
}

func csvSeconds(get func(c captured) time.Duration) csvValue {
	return csvPlain(func(c captured) string { return decimal(get(c).Seconds()) })
}

func csvWhole(get func(c captured) int) csvValue {
	return csvPlain(func(c captured) string { return strconv.Itoa(get(c)) })
}

// csvCounted is empty where no frame is counted.
func csvCounted(get func(c captured) string) csvValue {
	return csvPlain(func(c captured) string {
		if c.Figures.Count == 0 {
			return ""
		}
		return get(c)
	})
}

func csvMillis(get func(c captured) time.Duration) csvValue {
	return csvCounted(func(c captured) string { return decimal(millis(get(c))) })
}

// csvPart is the share of the frames whose refresh multiple is kept.
func csvPart(keep func(multiple int) bool) csvValue {
	return csvPlain(func(c captured) string {
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
	})
}

// csvScene are the scene, the capture and its frame times.
func csvScene() []csvColumn {
	return []csvColumn{
		{"scene", func(s *figures.Scene, _ captured) string { return noFormula(s.Scene.ID) }},
		{"capture", csvPlain(func(c captured) string { return noFormula(c.Key) })},
		{"name", csvPlain(func(c captured) string { return noFormula(c.Name) })},
		{"start_s", csvSeconds(func(c captured) time.Duration { return c.Start })},
		{"length_s", func(s *figures.Scene, _ captured) string {
			return decimal(s.Scene.Length.Seconds())
		}},
		{"refresh_hz", csvPlain(func(c captured) string { return decimal(c.Refresh.Hz()) })},
		{"raster", csvPlain(func(c captured) string {
			if c.Raster.X == 0 {
				return ""
			}
			return fmt.Sprintf("%dx%d", c.Raster.X, c.Raster.Y)
		})},
		{"pixel_ratio", csvPlain(func(c captured) string { return c.PixelRatio })},
		{"frames", csvWhole(func(c captured) int { return c.Figures.Count })},
		{"mean_fps", csvPlain(func(c captured) string {
			if c.Figures.Seen == 0 {
				return ""
			}
			return decimal(rate(c.Figures.MeanRate))
		})},
		{"slowest_1_percent_fps",
			csvCounted(func(c captured) string { return decimal(rate(c.Figures.SlowRate)) })},
		{"mean_ms", csvMillis(func(c captured) time.Duration { return c.Figures.Mean })},
		{"deviation_ms", csvMillis(func(c captured) time.Duration { return c.Figures.Deviation })},
		{"median_ms", csvMillis(func(c captured) time.Duration { return c.Figures.Median })},
		{"p95_ms", csvMillis(func(c captured) time.Duration { return c.Figures.P95 })},
		{"p99_ms", csvMillis(func(c captured) time.Duration { return c.Figures.P99 })},
		{"longest_ms", csvMillis(func(c captured) time.Duration { return c.Figures.Longest })},
	}
}

// csvShares say how much of the time went to frames of one refresh, of two, and so on.
func csvShares() []csvColumn {
	var columns []csvColumn
	for n := 1; n <= csvMultiples; n++ {
		columns = append(columns, csvColumn{
			fmt.Sprintf("share_%d_refreshes", n), csvPart(func(m int) bool { return m == n })})
	}
	return append(columns,
		csvColumn{"share_more_refreshes", csvPart(func(m int) bool { return m > csvMultiples })},
		csvColumn{"share_off_grid", csvPlain(func(c captured) string {
			if c.Figures.Seen == 0 || !c.Refresh.Valid() {
				return ""
			}
			return decimal(c.Figures.OffGrid.Part)
		})})
}

// csvCounts are what was counted, and for how long.
func csvCounts() []csvColumn {
	return []csvColumn{
		{"hitches", csvWhole(func(c captured) int { return len(c.Figures.Hitches) })},
		{"hitch_ms", csvPlain(func(c captured) string {
			return decimal(float64(c.Figures.HitchTime) / float64(time.Millisecond))
		})},
		{"hitch_times_s", csvPlain(func(c captured) string {
			var times []string
			for _, f := range c.Figures.Hitches {
				times = append(times, decimal(c.InScene(f.Begin).Seconds()))
			}
			return strings.Join(times, " ")
		})},
		{"torn", csvWhole(func(c captured) int { return c.Figures.Torn })},
		{"doubtful", csvWhole(func(c captured) int { return c.Figures.Doubtful })},
		{"doubtful_share", csvPlain(func(c captured) string { return decimal(c.Figures.Doubt.Part()) })},
		{"seen_s", csvSeconds(func(c captured) time.Duration { return c.Figures.Seen })},
		{"still_s", csvSeconds(func(c captured) time.Duration { return c.Figures.Still })},
		{"unknown_s", csvSeconds(func(c captured) time.Duration { return c.Figures.Unknown })},
		{"never_shown", csvWhole(func(c captured) int { return c.NeverShown })},
		{"ceiling_s", csvSeconds(func(c captured) time.Duration { return c.Figures.Ceiling })},
	}
}

// csvChanges are the differences to the scene's first capture.
func csvChanges() []csvColumn {
	var columns []csvColumn
	changed := func(name string, get func(c captured) float64) {
		columns = append(columns, csvColumn{"change_" + name, csvPlain(func(c captured) string {
			if c.Difference == nil {
				return ""
			}
			return decimal(get(c))
		})})
	}
	changed("mean_fps", func(c captured) float64 { return c.Difference.MeanRate })
	changed("mean_percent", func(c captured) float64 { return c.Difference.MeanRatePercent })
	changed("slowest_1_percent_fps", func(c captured) float64 { return c.Difference.SlowRate })
	changed("mean_ms", func(c captured) float64 { return millis(c.Difference.Mean) })
	changed("deviation_ms", func(c captured) float64 { return millis(c.Difference.Deviation) })
	changed("median_ms", func(c captured) float64 { return millis(c.Difference.Median) })
	changed("p95_ms", func(c captured) float64 { return millis(c.Difference.P95) })
	changed("p99_ms", func(c captured) float64 { return millis(c.Difference.P99) })
	changed("longest_ms", func(c captured) float64 { return millis(c.Difference.Longest) })
	changed("hitches", func(c captured) float64 { return float64(c.Difference.Hitches) })
	changed("torn", func(c captured) float64 { return float64(c.Difference.Torn) })
	return columns
}

// writeFiguresCSV writes one row a capture of each scene, as RFC 4180 has it but
// with line feeds. Differences (change_…) are against the scene's first capture.
func writeFiguresCSV(w io.Writer, scenes []*figures.Scene) error {
	columns := csvColumns()
	out := csv.NewWriter(w)
	row := make([]string, len(columns))
	for i, c := range columns {
		row[i] = c.name
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for _, s := range scenes {
		for i := range s.Captures {
			for j, c := range columns {
				row[j] = c.value(s, &s.Captures[i])
			}
			if err := out.Write(row); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
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
