package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"fairframe/render"
)

// csvColumn is one column of figures --format csv.
type csvColumn struct {
	name  string
	value func(s *render.SceneFigures, c *render.CaptureFigures) string
}

// csvMultiples are the refresh multiples with a column of their own.
const csvMultiples = 4

// csvColumns are all of them, in order. Cells are empty where there is nothing to
// tell from.
func csvColumns() []csvColumn {
	plain := func(get func(c *render.CaptureFigures) string) func(*render.SceneFigures, *render.CaptureFigures) string {
		return func(_ *render.SceneFigures, c *render.CaptureFigures) string { return get(c) }
	}
	counted := func(get func(c *render.CaptureFigures) string) func(*render.SceneFigures, *render.CaptureFigures) string {
		return plain(func(c *render.CaptureFigures) string {
			if c.Figures.Count == 0 {
				return ""
			}
			return get(c)
		})
	}
	milliseconds := func(get func(c *render.CaptureFigures) time.Duration) func(*render.SceneFigures, *render.CaptureFigures) string {
		return counted(func(c *render.CaptureFigures) string { return decimal(millis(get(c))) })
	}
	whole := func(get func(c *render.CaptureFigures) int) func(*render.SceneFigures, *render.CaptureFigures) string {
		return plain(func(c *render.CaptureFigures) string { return strconv.Itoa(get(c)) })
	}
	part := func(keep func(multiple int) bool) func(*render.SceneFigures, *render.CaptureFigures) string {
		return plain(func(c *render.CaptureFigures) string {
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
	columns := []csvColumn{
		{"scene", func(s *render.SceneFigures, _ *render.CaptureFigures) string { return noFormula(s.Scene.ID) }},
		{"capture", plain(func(c *render.CaptureFigures) string { return noFormula(c.Key) })},
		{"name", plain(func(c *render.CaptureFigures) string { return noFormula(c.Name) })},
		{"start_s", plain(func(c *render.CaptureFigures) string { return decimal(c.Start.Seconds()) })},
		{"length_s", func(s *render.SceneFigures, _ *render.CaptureFigures) string {
			return decimal(s.Scene.Length.Seconds())
		}},
		{"refresh_hz", plain(func(c *render.CaptureFigures) string { return decimal(c.Refresh.Hz()) })},
		{"raster", plain(func(c *render.CaptureFigures) string {
			if c.Raster.X == 0 {
				return ""
			}
			return fmt.Sprintf("%dx%d", c.Raster.X, c.Raster.Y)
		})},
		{"pixel_ratio", plain(func(c *render.CaptureFigures) string { return c.PixelRatio })},
		{"frames", whole(func(c *render.CaptureFigures) int { return c.Figures.Count })},
		{"mean_fps", plain(func(c *render.CaptureFigures) string {
			if c.Figures.Seen == 0 {
				return ""
			}
			return decimal(rate(c.Figures.MeanRate))
		})},
		{"slowest_1_percent_fps", counted(func(c *render.CaptureFigures) string { return decimal(rate(c.Figures.SlowRate)) })},
		{"mean_ms", milliseconds(func(c *render.CaptureFigures) time.Duration { return c.Figures.Mean })},
		{"deviation_ms", milliseconds(func(c *render.CaptureFigures) time.Duration { return c.Figures.Deviation })},
		{"median_ms", milliseconds(func(c *render.CaptureFigures) time.Duration { return c.Figures.Median })},
		{"p95_ms", milliseconds(func(c *render.CaptureFigures) time.Duration { return c.Figures.P95 })},
		{"p99_ms", milliseconds(func(c *render.CaptureFigures) time.Duration { return c.Figures.P99 })},
		{"longest_ms", milliseconds(func(c *render.CaptureFigures) time.Duration { return c.Figures.Longest })},
	}
	for n := 1; n <= csvMultiples; n++ {
		columns = append(columns, csvColumn{fmt.Sprintf("share_%d_refreshes", n), part(func(m int) bool { return m == n })})
	}
	columns = append(columns,
		csvColumn{"share_more_refreshes", part(func(m int) bool { return m > csvMultiples })},
		csvColumn{"share_off_grid", plain(func(c *render.CaptureFigures) string {
			if c.Figures.Seen == 0 || !c.Refresh.Valid() {
				return ""
			}
			return decimal(c.Figures.OffGrid.Part)
		})},
		csvColumn{"hitches", whole(func(c *render.CaptureFigures) int { return len(c.Figures.Hitches) })},
		csvColumn{"hitch_times_s", plain(func(c *render.CaptureFigures) string {
			var times []string
			for _, f := range c.Figures.Hitches {
				times = append(times, decimal(c.InScene(f.Begin).Seconds()))
			}
			return strings.Join(times, " ")
		})},
		csvColumn{"torn", whole(func(c *render.CaptureFigures) int { return c.Figures.Torn })},
		csvColumn{"doubtful", whole(func(c *render.CaptureFigures) int { return c.Figures.Doubtful })},
		csvColumn{"doubtful_share", plain(func(c *render.CaptureFigures) string { return decimal(c.Figures.Doubt.Part()) })},
		csvColumn{"seen_s", plain(func(c *render.CaptureFigures) string { return decimal(c.Figures.Seen.Seconds()) })},
		csvColumn{"still_s", plain(func(c *render.CaptureFigures) string { return decimal(c.Figures.Still.Seconds()) })},
		csvColumn{"unknown_s", plain(func(c *render.CaptureFigures) string { return decimal(c.Figures.Unknown.Seconds()) })},
		csvColumn{"never_shown", whole(func(c *render.CaptureFigures) int { return c.NeverShown })},
		csvColumn{"ceiling_s", plain(func(c *render.CaptureFigures) string { return decimal(c.Figures.Ceiling.Seconds()) })})
	changed := func(name string, get func(c *render.CaptureFigures) float64) {
		columns = append(columns, csvColumn{"change_" + name, plain(func(c *render.CaptureFigures) string {
			if c.Difference == nil {
				return ""
			}
			return decimal(get(c))
		})})
	}
	changed("mean_fps", func(c *render.CaptureFigures) float64 { return c.Difference.MeanRate })
	changed("mean_percent", func(c *render.CaptureFigures) float64 { return c.Difference.MeanRatePercent })
	changed("slowest_1_percent_fps", func(c *render.CaptureFigures) float64 { return c.Difference.SlowRate })
	changed("mean_ms", func(c *render.CaptureFigures) float64 { return millis(c.Difference.Mean) })
	changed("deviation_ms", func(c *render.CaptureFigures) float64 { return millis(c.Difference.Deviation) })
	changed("median_ms", func(c *render.CaptureFigures) float64 { return millis(c.Difference.Median) })
	changed("p95_ms", func(c *render.CaptureFigures) float64 { return millis(c.Difference.P95) })
	changed("p99_ms", func(c *render.CaptureFigures) float64 { return millis(c.Difference.P99) })
	changed("longest_ms", func(c *render.CaptureFigures) float64 { return millis(c.Difference.Longest) })
	changed("hitches", func(c *render.CaptureFigures) float64 { return float64(c.Difference.Hitches) })
	changed("torn", func(c *render.CaptureFigures) float64 { return float64(c.Difference.Torn) })
	columns = append(columns, soundColumns()...)
	return append(columns, csvColumn{"spans", plain(func(c *render.CaptureFigures) string { return strings.Join(c.Sentences(), "; ") })})
}

// writeFiguresCSV writes one row a capture of each scene, as RFC 4180 has it but
// with line feeds. Differences (change_…) are against the scene's first capture.
func writeFiguresCSV(w io.Writer, scenes []*render.SceneFigures) error {
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
