package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	gonum "gonum.org/v1/gonum/stat"
)

// logRow is a row of a log as the text has it, in seconds.
type logRow struct {
	begin, time float64
	torn        bool
	note        string
}

func (r logRow) still() bool    { return strings.Contains(r.note, "still") }
func (r logRow) doubtful() bool { return strings.Contains(r.note, "doubtful") }

// unevenLog writes a log of some 4 s with frames of every kind: multiples of the
// refresh, frames off it, hitches, torn and doubtful ones, a still stretch and a
// gap.
func unevenLog(t *testing.T, name string, seed uint64) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 1))
	var b strings.Builder
	b.WriteString("time_s,frame_time_ms,tear,note\n")
	for at, n := 0.0, 0; at < 4; n++ {
		d, tear, note := 1.0/60, 0, ""
		switch p := r.Float64(); {
		case p < 0.2:
			d = 2.0 / 60
		case p < 0.3:
			d = 0.005 + 0.03*r.Float64()
		case p < 0.34:
			d = float64(3+r.IntN(6)) / 60
		}
		if r.IntN(9) == 0 {
			tear = 1 + r.IntN(35)
		}
		if r.IntN(11) == 0 {
			note = "doubtful"
		}
		if n == 40 {
			d, note, tear = 0.6, "still", 0
		}
		fmt.Fprintf(&b, "%.9f,%.6f,%d,%s\n", at, 1000*d, tear, note)
		at += d
		if n == 70 {
			at += 0.15 // nothing is known of it
		}
	}
	write(t, name, b.String())
}

// rowsOf reads a log with nothing but a CSV reader.
func rowsOf(t *testing.T, name string) []logRow {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cells, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []logRow
	for _, c := range cells[1:] {
		at, err1 := strconv.ParseFloat(c[0], 64)
		d, err2 := strconv.ParseFloat(c[1], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(c)
		}
		rows = append(rows, logRow{at, d / 1000, c[2] != "0", c[3]})
	}
	return rows
}

// typeSeven is a percentile by the formula of Hyndman and Fan (1996), type 7: with
// h = (n-1)p + 1, x[⌊h⌋] + (h-⌊h⌋)(x[⌊h⌋+1] - x[⌊h⌋]), counting from 1.
func typeSeven(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1)*p + 1
	k := int(math.Floor(h))
	if k >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[k-1] + (h-float64(k))*(sorted[k]-sorted[k-1])
}

// TestFiguresRecomputed works every figure of a scene out again, from the text of
// the logs alone and by the words of the definitions (figures --help), with gonum
// where it has them, and compares it with what each format says.
func TestFiguresRecomputed(t *testing.T) {
	figuresFile(t)
	const refresh, start, to = 60.0, 0.3104, 2.4304
	unevenLog(t, "a.csv", 5)
	unevenLog(t, "c.csv", 6)
	write(t, "c.yaml", `output: {size: 320x180}
captures:
  alder: {name: Alder, raster: 1408x792, video: a.mkv, pacing: a.csv}
  cedar: {name: Cedar, raster: 1920x1080, video: a.mkv, pacing: c.csv}
scenes:
  - {id: ridge, captures: [alder, cedar], start: 0.3104s, length: 2.12s, still: leaves out}
`)
	run := func(format string) string {
		t.Helper()
		var out, errs strings.Builder
		if code := run(t.Context(), []string{"figures", "c.yaml", "--format", format}, &out, &errs); code != exitDone {
			t.Fatalf("exit code %d\n%s", code, &errs)
		}
		return out.String()
	}
	var doc figuresJSON
	if err := json.Unmarshal([]byte(run("json")), &doc); err != nil {
		t.Fatal(err)
	}
	table, markdown := run("table"), run("markdown")
	records, err := csv.NewReader(strings.NewReader(run("csv"))).ReadAll()
	if err != nil || len(records) != 3 {
		t.Fatalf("%d rows, %v", len(records), err)
	}
	// One measure for the hitches of both: twice the slower median.
	slowest := 0.0
	for _, log := range []string{"a.csv", "c.csv"} {
		var times []float64
		for _, r := range rowsOf(t, log) {
			if r.begin >= start && r.begin < to && !r.still() {
				times = append(times, 1000*r.time)
			}
		}
		slices.Sort(times)
		slowest = max(slowest, typeSeven(times, 0.5))
	}
	all := map[string][2]float64{}
	for i, log := range []string{"a.csv", "c.csv"} {
		want := map[string]float64{}
		var times, hitches []float64
		shares := map[int]float64{}
		var seen, still, shown, known float64
		for _, r := range rowsOf(t, log) {
			inside := math.Min(r.begin+r.time, to) - math.Max(r.begin, start)
			if inside <= 0 {
				continue
			}
			known += inside
			if r.still() {
				still += inside
				continue
			}
			seen += inside
			shown += inside / r.time
			k := int(math.Round(r.time * refresh))
			if off := math.Abs(r.time - float64(k)/refresh); k < 1 || off > 0.001 || off > 1/refresh/8 {
				k = 0
			}
			shares[k] += inside
			if r.doubtful() {
				want["doubtful_share"] += inside
			}
			if r.begin < start {
				continue
			}
			times = append(times, 1000*r.time)
			if r.torn {
				want["torn"]++
			}
			if r.doubtful() {
				want["doubtful"]++
			}
		}
		slices.Sort(times)
		n := len(times)
		slow := times[n-int(math.Ceil(float64(n)/100)):]
		want["frames"], want["seen_s"], want["still_s"], want["unknown_s"] = float64(n), seen, still, to-start-known
		want["mean_fps"] = shown / seen
		want["doubtful_share"] /= seen
		want["mean_ms"], want["deviation_ms"] = gonum.Mean(times, nil), gonum.PopStdDev(times, nil)
		want["median_ms"], want["p95_ms"], want["p99_ms"] = typeSeven(times, 0.5), typeSeven(times, 0.95), typeSeven(times, 0.99)
		want["longest_ms"] = times[n-1]
		want["slowest_1_percent_fps"] = 1000 / gonum.Mean(slow, nil)
		want["off_grid_share"] = shares[0] / seen
		for _, ms := range times {
			if ms > 2*slowest+1 {
				hitches = append(hitches, ms)
			}
		}
		want["hitches"] = float64(len(hitches))
		if n < 50 || still < 0.5 || want["unknown_s"] < 0.1 || want["torn"] < 5 || want["doubtful"] < 3 || len(hitches) < 2 || shares[0] == 0 {
			t.Fatalf("%s: the log tries too little: %v", log, want)
		}

		c := doc.Scenes[0].Captures[i]
		got := map[string]float64{"frames": float64(c.Frames), "seen_s": c.Seen, "still_s": c.Still, "unknown_s": c.Unknown, "mean_fps": *c.Mean, "mean_ms": *c.MeanTime,
			"deviation_ms": *c.Deviation, "median_ms": *c.Median, "p95_ms": *c.P95, "p99_ms": *c.P99, "longest_ms": *c.Longest, "slowest_1_percent_fps": *c.Slow,
			"off_grid_share": *c.OffGrid, "hitches": float64(len(c.Hitches)), "torn": float64(c.Torn), "doubtful": float64(c.Doubtful), "doubtful_share": *c.Doubt}
		for _, s := range c.Shares {
			got[fmt.Sprintf("share_%d_refreshes", s.Refreshes)] = s.Part
		}
		for k, d := range shares {
			if k > 0 {
				want[fmt.Sprintf("share_%d_refreshes", k)] = d / seen
			}
		}
		// Rates are told to a ten-thousandth, all else to a millionth; the log has its
		// times to a nanosecond.
		for name, w := range want {
			tolerance := 3e-6
			if strings.HasSuffix(name, "_fps") {
				tolerance = 6e-5
			}
			if g, ok := got[name]; !ok || math.Abs(g-w) > tolerance {
				t.Errorf("%s: %s is %v, by its definition %.7f", log, name, g, w)
			}
			if two := all[name]; i == 0 {
				all[name] = [2]float64{w, 0}
			} else {
				all[name] = [2]float64{two[0], w}
			}
			column := slices.Index(records[0], name)
			if column < 0 && (strings.HasPrefix(name, "share_") || name == "off_grid_share") {
				continue
			}
			if v, err := strconv.ParseFloat(records[i+1][max(column, 0)], 64); column < 0 || err != nil || math.Abs(v-got[name]) > 1e-9 {
				t.Errorf("%s: csv has %s in column %d, json has %v", name, records[i+1][max(column, 0)], column, got[name])
			}
		}
		if len(got) != len(want) {
			t.Errorf("%s: told are %v, worked out %v", log, got, want)
		}
	}
	// Differences are the second's figures minus the first's.
	d := doc.Scenes[0].Captures[1].Difference
	for name, got := range map[string]float64{"mean_fps": d.Mean, "slowest_1_percent_fps": d.Slow, "mean_ms": d.MeanTime, "deviation_ms": d.Deviation, "median_ms": d.Median,
		"p95_ms": d.P95, "p99_ms": d.P99, "longest_ms": d.Longest, "off_grid_share": *d.OffGrid, "hitches": float64(d.Hitches), "torn": float64(d.Torn)} {
		if want := all[name][1] - all[name][0]; math.Abs(got-want) > 6e-6 {
			t.Errorf("the difference of %s is %v, want %.7f", name, got, want)
		}
	}
	if want := 100 * (all["mean_fps"][1]/all["mean_fps"][0] - 1); math.Abs(d.MeanPercent-want) > 1e-4 {
		t.Errorf("the difference of mean rates is %v %%, want %.6f", d.MeanPercent, want)
	}
	// The other formats have the same to two decimals.
	for label, name := range map[string]string{"mean rate": "mean_fps", "slowest 1 %": "slowest_1_percent_fps", "mean frame time": "mean_ms", "standard deviation": "deviation_ms",
		"median frame time": "median_ms", "95th percentile": "p95_ms", "99th percentile": "p99_ms", "longest frame time": "longest_ms"} {
		for format, text := range map[string]string{"table": table, "markdown": markdown} {
			var line string
			for l := range strings.Lines(text) {
				if strings.HasPrefix(strings.TrimPrefix(l, "| "), label+" ") {
					line = l
				}
			}
			for i := range 2 {
				if want := fmt.Sprintf(" %.2f ", all[name][i]); !strings.Contains(line, want) {
					t.Errorf("%s: %q lacks %s", format, line, want)
				}
			}
		}
	}
}
