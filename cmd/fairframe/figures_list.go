package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"fairframe/render/figures"
	"fairframe/render/pacing"
)

// figure is one of the numbers, as tables print it and the help explains it.
type figure struct {
	label   string
	meaning string // with the source of the formula; lines of at most 72 characters
	value   func(f *pacing.Figures) string
	change  func(d *pacing.Difference) string // against another capture; nil: is not compared
}

// none stands where there are no frames to tell from.
const none = "–"

// sharesLabel marks the place of the shares, which take a row for each multiple.
const sharesLabel = "at N fps"

// Rows that are left out, or empty, where they say nothing.
const (
	limitLabel   = "at the capture's limit"
	offGridLabel = "off the grid"
)

var pacingFigures = []figure{
	{"mean rate",
		"frames over time: the time-mean of 1/d, where d is the frame time of the\n" +
			"frame on screen; at least that much where a measured capture shows a new\n" +
			"frame in every picture, since it cannot show more; a difference that\n" +
			"rests on such a rate is one of lower bounds",
		func(f *pacing.Figures) string {
			return ifAny(f.Seen > 0,
				atLeast(f.AtLeast(false))+fps(f.MeanRate))
		},
		func(d *pacing.Difference) string { return change(d.MeanRate, d.MeanRatePercent, d.MeanBound) }},
	{"slowest 1 %",
		"mean rate over the slowest 1 % of the frames: the longest hundredth of\n" +
			"the frames, rounded up, over the sum of their frame times (no standard\n" +
			"has it; a percentile of the rates is another figure)", func(f *pacing.Figures) string {
			return ifAny(f.Count > 0, atLeast(f.AtLeast(true))+fps(f.SlowRate))
		},
		func(d *pacing.Difference) string { return change(d.SlowRate, d.SlowRatePercent, d.SlowBound) }},
	{"mean frame time", "sum of the frame times over their number",
		timeOf(func(f *pacing.Figures) time.Duration { return f.Mean }),
		changeOf(func(d *pacing.Difference) time.Duration { return d.Mean })},
	{"standard deviation",
		"of the frame times, of the population: the root of the mean squared\ndistance from the mean",
		timeOf(func(f *pacing.Figures) time.Duration { return f.Deviation }),
		changeOf(func(d *pacing.Difference) time.Duration { return d.Deviation })},
	{"median frame time",
		"50th percentile, like the next two by type 7 of Hyndman and Fan, \"Sample\n" +
			"quantiles in statistical packages\", The American Statistician 50(4), 1996",
		timeOf(func(f *pacing.Figures) time.Duration { return f.Median }),
		changeOf(func(d *pacing.Difference) time.Duration { return d.Median })},
	{"95th percentile", "of the frame times", timeOf(func(f *pacing.Figures) time.Duration { return f.P95 }),
		changeOf(func(d *pacing.Difference) time.Duration { return d.P95 })},
	{"99th percentile", "of the frame times", timeOf(func(f *pacing.Figures) time.Duration { return f.P99 }),
		changeOf(func(d *pacing.Difference) time.Duration { return d.P99 })},
	{"longest frame time", "the maximum", timeOf(func(f *pacing.Figures) time.Duration { return f.Longest }),
		changeOf(func(d *pacing.Difference) time.Duration { return d.Longest })},
	{sharesLabel,
		"share of the time in frames of one, two, … refreshes, within 1 ms and an\n" +
			"eighth of a refresh; at 60 Hz 16.7, 33.3, 50.0 ms are 60, 30, 20 fps\n(common practice)",
		nil, nil},
	{offGridLabel, "share of the time in frames that are no multiple of the refresh",
		func(f *pacing.Figures) string { return ifAny(f.Seen > 0, share(f.OffGrid.Part)) },
		nil},
	{hitchesLabel,
		"frames longer than twice the slowest median of the scene's captures by\n" +
			"more than 1 ms, which tolerates rounded logs; one measure for all of\n" +
			"them (the factor is a choice of this program)",
		func(f *pacing.Figures) string { return ifAny(f.Count > 0, strconv.Itoa(len(f.Hitches))) },
		func(d *pacing.Difference) string { return signed(strconv.Itoa(d.Hitches)) }},
	{"torn frames", "frames that appeared in mid-picture",
		func(f *pacing.Figures) string { return ifAny(f.Count > 0, strconv.Itoa(f.Torn)) },
		func(d *pacing.Difference) string { return signed(strconv.Itoa(d.Torn)) }},
	{"frames", "that begin in the scene",
		func(f *pacing.Figures) string { return strconv.Itoa(f.Count) }, nil},
	{"doubtful frames", "frames for which the evidence was weak, of a measured log",
		func(f *pacing.Figures) string { return strconv.Itoa(f.Doubtful) }, nil},
	{"doubtful share",
		"share of the time in frames for which the evidence was weak; above 5 %\n" +
			"the pacing is called uncertain, here and in the clip", func(f *pacing.Figures) string {
			return ifAny(f.Seen > 0, share(f.Doubt.Part())+uncertain(f))
		}, nil},
	{limitLabel, "time in which every picture of a measured capture was new: the rate may\nhave been higher",
		func(f *pacing.Figures) string { return fmt.Sprintf("%.2f s", f.Ceiling.Seconds()) }, nil},
	{"still",
		"time in which the picture did not change, so that nothing tells whether\n" +
			"frames were shown (a menu, a pause); a short one between moving pictures\n" +
			"is a hitch instead, unless still: says otherwise",
		func(f *pacing.Figures) string { return fmt.Sprintf("%.2f s", f.Still.Seconds()) }, nil},
	{"not in the log", "time that the pacing log does not cover",
		func(f *pacing.Figures) string { return fmt.Sprintf("%.2f s", f.Unknown.Seconds()) }, nil},
}

func ifAny(any bool, text string) string {
	if any {
		return text
	}
	return none
}

// atLeast goes before a rate that is only the least it can have been.
func atLeast(ceiling bool) string {
	if ceiling {
		return "at least "
	}
	return ""
}

// refreshText writes the refresh of a capture; "none" where its frames keep to none.
func refreshText(r pacing.Rate, unit string) string {
	if !r.Valid() {
		return "none"
	}
	return r.String() + unit
}

// uncertain goes after a share of doubtful frames that is too large.
func uncertain(f *pacing.Figures) string {
	if f.Doubt.Uncertain() {
		return ": pacing uncertain"
	}
	return ""
}

func fps(v float64) string { return fmt.Sprintf("%.2f fps", v) }

func ms(d time.Duration) string { return fmt.Sprintf("%.2f ms", d.Seconds()*1000) }

// share writes a part of 1. What is neither nothing nor all never reads as such.
func share(part float64) string {
	switch {
	case part > 0 && part < 0.0005:
		return "< 0.1 %"
	case part < 1 && part >= 0.9995:
		return "> 99.9 %"
	}
	return fmt.Sprintf("%.1f %%", 100*part)
}

func timeOf(get func(*pacing.Figures) time.Duration) func(*pacing.Figures) string {
	return func(f *pacing.Figures) string { return ifAny(f.Count > 0, ms(get(f))) }
}

func changeOf(get func(*pacing.Difference) time.Duration) func(*pacing.Difference) string {
	return func(d *pacing.Difference) string { return signed(ms(get(d))) }
}

// change writes a difference of rates and what it is in percent.
func change(fpsChange, percent float64, bound bool) string {
	text := signed(fps(fpsChange)) + " (" + signed(fmt.Sprintf("%.1f %%", percent)) + ")"
	if bound {
		text += " of lower bounds" // the true rates may differ otherwise
	}
	return text
}

// signed puts a sign before a number: a plus, a true minus (U+2212), or ± where
// all digits are 0.
func signed(number string) string {
	digits := strings.TrimPrefix(number, "-")
	switch {
	case !strings.ContainsAny(digits, "123456789"):
		return "±" + digits
	case digits != number:
		return "−" + digits
	}
	return "+" + number
}

// sceneTable is a scene's figures as text: a heading and rows of as many cells.
// The first column names the figure, the others are captures and differences.
type sceneTable struct {
	heading []string
	rows    [][]string
}

// tableOf lays a scene's figures out.
func tableOf(s *figures.Scene) sceneTable {
	names := namesOf(s)
	t := sceneTable{heading: []string{""}}
	for i := range s.Captures {
		t.heading = append(t.heading, names[i])
		if i > 0 {
			t.heading = append(t.heading, names[i]+" against "+names[0])
		}
	}
	row := func(label string, value func(c *figures.Capture) string,
		change func(c *figures.Capture) string) {
		cells := []string{label}
		for i := range s.Captures {
			c := &s.Captures[i]
			cells = append(cells, value(c))
			if i > 0 {
				cells = append(cells, change(c))
			}
		}
		t.rows = append(t.rows, cells)
	}
	empty := func(*figures.Capture) string { return "" }
	if slices.ContainsFunc(s.Captures, func(c figures.Capture) bool { return c.Raster.X > 0 }) {
		row("raster", func(c *figures.Capture) string {
			return ifAny(c.Raster.X > 0, fmt.Sprintf("%dx%d", c.Raster.X, c.Raster.Y))
		}, func(c *figures.Capture) string {
			if c.PixelRatio == "" {
				return ""
			}
			return c.PixelRatio + " pixels on " + c.Base.Name
		})
	}
	row("refresh", func(c *figures.Capture) string { return refreshText(c.Refresh, " Hz") }, empty)
	for _, f := range pacingFigures {
		switch {
		case f.label == sharesLabel:
			shareRows(s, row)
			continue
		case f.label == "not in the log" && !slices.ContainsFunc(s.Captures,
			func(c figures.Capture) bool { return c.Figures.Unknown > pacing.Slack }):
			continue
		case f.label == limitLabel && !slices.ContainsFunc(s.Captures,
			func(c figures.Capture) bool { return c.Figures.Ceiling > 0 }):
			continue
		}
		label := f.label
		if longest := s.Captures[0].Figures.HitchTime; label == hitchesLabel && longest > 0 {
			label = fmt.Sprintf("hitches over %.1f ms", longest.Seconds()*1000)
		}
		row(label, func(c *figures.Capture) string {
			if f.label == offGridLabel && !c.Refresh.Valid() {
				return none // there is no grid
			}
			return f.value(&c.Figures)
		}, func(c *figures.Capture) string {
			switch {
			case c.Difference == nil:
				return ""
			case f.label == offGridLabel && c.Refresh == s.Captures[0].Refresh:
				return points(c.Difference.OffGrid)
			case f.change == nil:
				return ""
			}
			return f.change(c.Difference)
		})
	}
	if slices.ContainsFunc(s.Captures, func(c figures.Capture) bool { return c.NeverShown > 0 }) {
		row("never shown",
			func(c *figures.Capture) string { return fmt.Sprintf("%d frames", c.NeverShown) }, empty)
	}
	soundRows(s, row)
	return t
}

// points writes a difference of shares in percentage points.
func points(part float64) string { return signed(fmt.Sprintf("%.1f", 100*part)) + " points" }

// shareRows adds a row for each rate at which any capture spends time, the
// highest first.
func shareRows(s *figures.Scene,
	row func(string, func(*figures.Capture) string, func(*figures.Capture) string)) {
	var rates []float64
	for _, c := range s.Captures {
		for _, one := range c.Figures.Shares {
			rates = append(rates, one.Rate)
		}
	}
	slices.SortFunc(rates, func(a, b float64) int {
		if a > b {
			return -1
		}
		return 1
	})
	rates = slices.CompactFunc(rates, sameRate)
	for _, rate := range rates {
		label := fmt.Sprintf("at %s fps (%.1f ms)", trimmed(rate), 1000/rate)
		row(label, func(c *figures.Capture) string {
			part := 0.0
			for _, one := range c.Figures.Shares {
				if sameRate(one.Rate, rate) {
					part = one.Part
				}
			}
			return ifAny(c.Figures.Seen > 0 && c.Refresh.Valid(), share(part))
		}, func(c *figures.Capture) string {
			if c.Difference == nil || c.Refresh != s.Captures[0].Refresh {
				return ""
			}
			for _, one := range c.Difference.Shares {
				if sameRate(one.Rate, rate) {
					return points(one.Part)
				}
			}
			return points(0)
		})
	}
}

func sameRate(a, b float64) bool { return math.Abs(a-b) < 1e-9*a }

// trimmed writes a number with as many decimals, up to two, as it needs.
func trimmed(v float64) string {
	s := strconv.FormatFloat(v, 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// namesOf returns how a scene's captures are called; those that share a name are
// told apart by their keys.
func namesOf(s *figures.Scene) []string {
	count := map[string]int{}
	for _, c := range s.Captures {
		count[c.Name]++
	}
	var out []string
	for _, c := range s.Captures {
		name := c.Name
		if count[name] > 1 {
			name += " [" + c.Key + "]"
		}
		out = append(out, name)
	}
	return out
}

// about says in words what the table is of.
func about(s *figures.Scene) string {
	var starts []string
	names := namesOf(s)
	for i, c := range s.Captures {
		starts = append(starts, fmt.Sprintf("%s from %.3f s", names[i], c.Start.Seconds()))
	}
	return fmt.Sprintf("%s s: %s. Times count from the scene's start; the refresh is the capture's rate.",
		trimmed(s.Scene.Length.Seconds()), strings.Join(starts, ", "))
}

const hitchesLabel = "hitches"

// mostHitches is how many a table lists for a capture; csv and json have all.
const mostHitches = 10

// hitchLine lists when a capture hitched and for how long, "" if it never did.
func hitchLine(c *figures.Capture, name string) string {
	list := c.Figures.Hitches
	if len(list) == 0 {
		return ""
	}
	var parts []string
	for _, f := range list[:min(len(list), mostHitches)] {
		parts = append(parts, fmt.Sprintf("%.2f s (%.1f ms)",
			c.InScene(f.Begin).Seconds(), f.Time.Seconds()*1000))
	}
	line := name + " hitches at " + strings.Join(parts, ", ")
	if more := len(list) - mostHitches; more > 0 {
		line += fmt.Sprintf(" and %d times more", more)
	}
	return line
}

// remarks are a scene's spans and hitches in words.
func remarks(s *figures.Scene) []string {
	var out []string
	names := namesOf(s)
	for i := range s.Captures {
		c := &s.Captures[i]
		for _, span := range c.Spans {
			out = append(out, span.Sentence(names[i], c.Start))
		}
		if line := hitchLine(c, names[i]); line != "" {
			out = append(out, line)
		}
	}
	return out
}
