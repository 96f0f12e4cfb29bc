package main

import (
	"cmp"
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
	value   func(c *figures.Capture) string
	change  func(c, first *figures.Capture) string // "" where the two are not compared; nil: they never are
	shown   func(c *figures.Capture) bool          // for no capture: the row is left out; nil: it never is
}

// none stands where there are no frames to tell from.
const none = "–"

// The shares take a row for each multiple; the row of hitches tells their measure.
const (
	sharesLabel  = "at N fps"
	hitchesLabel = "hitches"
)

var pacingFigures = []figure{
	{label: "mean rate",
		meaning: "frames over time: the time-mean of 1/d, where d is the frame time of the\n" +
			"frame on screen; at least that much where a measured capture shows a new\n" +
			"frame in every picture, since it cannot show more; a difference that\n" +
			"rests on such a rate is one of lower bounds",
		value: seen(func(f *pacing.Figures) string { return atLeast(f.AtLeast(false)) + fps(f.MeanRate) }),
		change: changed(func(d *pacing.Difference) string {
			return change(d.MeanRate, d.MeanRatePercent, d.MeanBound)
		})},
	{label: "slowest 1 %",
		meaning: "mean rate over the slowest 1 % of the frames: the longest hundredth of\n" +
			"the frames, rounded up, over the sum of their frame times (no standard\n" +
			"has it; a percentile of the rates is another figure)",
		value: counted(func(f *pacing.Figures) string { return atLeast(f.AtLeast(true)) + fps(f.SlowRate) }),
		change: changed(func(d *pacing.Difference) string {
			return change(d.SlowRate, d.SlowRatePercent, d.SlowBound)
		})},
	timeFigure("mean frame time", "sum of the frame times over their number",
		func(t *pacing.Times) time.Duration { return t.Mean }),
	timeFigure("standard deviation",
		"of the frame times, of the population: the root of the mean squared\ndistance from the mean",
		func(t *pacing.Times) time.Duration { return t.Deviation }),
	timeFigure("median frame time",
		"50th percentile, like the next two by type 7 of Hyndman and Fan, \"Sample\n"+
			"quantiles in statistical packages\", The American Statistician 50(4), 1996",
		func(t *pacing.Times) time.Duration { return t.Median }),
	timeFigure("95th percentile", "of the frame times", func(t *pacing.Times) time.Duration { return t.P95 }),
	timeFigure("99th percentile", "of the frame times", func(t *pacing.Times) time.Duration { return t.P99 }),
	timeFigure("longest frame time", "the maximum", func(t *pacing.Times) time.Duration { return t.Longest }),
	{label: sharesLabel,
		meaning: "share of the time in frames of one, two, … refreshes, within 1 ms and an\n" +
			"eighth of a refresh; at 60 Hz 16.7, 33.3, 50.0 ms are 60, 30, 20 fps\n(common practice)"},
	{label: "off the grid", meaning: "share of the time in frames that are no multiple of the refresh",
		value: func(c *figures.Capture) string {
			return ifAny(c.Figures.Seen > 0 && c.Refresh.Valid(), share(c.Figures.OffGrid.Part))
		},
		change: func(c, first *figures.Capture) string {
			if c.Difference == nil || c.Refresh != first.Refresh {
				return ""
			}
			return points(c.Difference.OffGrid)
		}},
	{label: hitchesLabel,
		meaning: "frames longer than twice the slowest median of the scene's captures by\n" +
			"more than 1 ms, which tolerates rounded logs; one measure for all of\n" +
			"them (the factor is a choice of this program)",
		value:  counted(func(f *pacing.Figures) string { return strconv.Itoa(len(f.Hitches)) }),
		change: changed(func(d *pacing.Difference) string { return signed(strconv.Itoa(d.Hitches)) })},
	{label: "torn frames", meaning: "frames that appeared in mid-picture",
		value:  counted(func(f *pacing.Figures) string { return strconv.Itoa(f.Torn) }),
		change: changed(func(d *pacing.Difference) string { return signed(strconv.Itoa(d.Torn)) })},
	{label: "frames", meaning: "that begin in the scene",
		value: func(c *figures.Capture) string { return strconv.Itoa(c.Figures.Count) }},
	{label: "doubtful frames", meaning: "frames for which the evidence was weak, of a measured log",
		value: func(c *figures.Capture) string { return strconv.Itoa(c.Figures.Doubtful) }},
	{label: "doubtful share",
		meaning: "share of the time in frames for which the evidence was weak; above 5 %\n" +
			"the pacing is called uncertain, here and in the clip",
		value: seen(func(f *pacing.Figures) string { return share(f.Doubt.Part()) + uncertain(f) })},
	{label: "at the capture's limit",
		meaning: "time in which every picture of a measured capture was new: the rate may\nhave been higher",
		value:   func(c *figures.Capture) string { return secs(c.Figures.Ceiling) },
		shown:   func(c *figures.Capture) bool { return c.Figures.Ceiling > 0 }},
	{label: "still",
		meaning: "time in which the picture did not change, so that nothing tells whether\n" +
			"frames were shown (a menu, a pause); a short one between moving pictures\n" +
			"is a hitch instead, unless still: says otherwise",
		value: func(c *figures.Capture) string { return secs(c.Figures.Still) }},
	{label: "not in the log", meaning: "time that the pacing log does not cover",
		value: func(c *figures.Capture) string { return secs(c.Figures.Unknown) },
		shown: func(c *figures.Capture) bool { return c.Figures.Unknown > pacing.Slack }},
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

func secs(d time.Duration) string { return fmt.Sprintf("%.2f s", d.Seconds()) }

// seen is a figure of the time in which frames were seen, counted one of the frames that
// begin in the scene, changed a difference to the first capture.
func seen(get func(*pacing.Figures) string) func(*figures.Capture) string {
	return func(c *figures.Capture) string { return ifAny(c.Figures.Seen > 0, get(&c.Figures)) }
}

func counted(get func(*pacing.Figures) string) func(*figures.Capture) string {
	return func(c *figures.Capture) string { return ifAny(c.Figures.Count > 0, get(&c.Figures)) }
}

func changed(get func(*pacing.Difference) string) func(c, first *figures.Capture) string {
	return func(c, _ *figures.Capture) string {
		if c.Difference == nil {
			return ""
		}
		return get(c.Difference)
	}
}

// timeFigure is a figure of the frame times.
func timeFigure(label, meaning string, get func(*pacing.Times) time.Duration) figure {
	return figure{label: label, meaning: meaning,
		value:  counted(func(f *pacing.Figures) string { return ms(get(&f.Times)) }),
		change: changed(func(d *pacing.Difference) string { return signed(ms(get(&d.Times))) })}
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
	add := func(f figure) {
		some := func(c figures.Capture) bool { return f.shown(&c) }
		if f.shown != nil && !slices.ContainsFunc(s.Captures, some) {
			return
		}
		cells := []string{f.label}
		for i := range s.Captures {
			cells = append(cells, f.value(&s.Captures[i]))
			switch {
			case i > 0 && f.change != nil:
				cells = append(cells, f.change(&s.Captures[i], &s.Captures[0]))
			case i > 0:
				cells = append(cells, "")
			}
		}
		t.rows = append(t.rows, cells)
	}
	add(figure{label: "raster", shown: stated, value: func(c *figures.Capture) string {
		return ifAny(stated(c), fmt.Sprintf("%dx%d", c.Raster.X, c.Raster.Y))
	}, change: func(c, _ *figures.Capture) string {
		if c.PixelRatio == "" {
			return ""
		}
		return c.PixelRatio + " pixels on " + c.Base.Name
	}})
	add(figure{label: "refresh",
		value: func(c *figures.Capture) string { return refreshText(c.Refresh, " Hz") }})
	for _, f := range pacingFigures {
		longest := s.Captures[0].Figures.HitchTime
		switch {
		case f.label == sharesLabel:
			for _, rate := range sharedRates(s) {
				add(shareFigure(rate))
			}
			continue
		case f.label == hitchesLabel && longest > 0:
			f.label = fmt.Sprintf("hitches over %.1f ms", longest.Seconds()*1000)
		}
		add(f)
	}
	add(figure{label: "never shown", shown: func(c *figures.Capture) bool { return c.NeverShown > 0 },
		value: func(c *figures.Capture) string { return fmt.Sprintf("%d frames", c.NeverShown) }})
	list := soundFigures()
	if !slices.ContainsFunc(s.Captures, func(c figures.Capture) bool { return c.Sound != nil }) {
		list = list[:1] // says that there is none
	}
	for _, f := range list {
		add(f)
	}
	return t
}

func stated(c *figures.Capture) bool { return c.Raster.X > 0 }

// points writes a difference of shares in percentage points.
func points(part float64) string { return signed(fmt.Sprintf("%.1f", 100*part)) + " points" }

// sharedRates are the rates at which any capture spends time, the highest first.
func sharedRates(s *figures.Scene) []float64 {
	var rates []float64
	for _, c := range s.Captures {
		for _, one := range c.Figures.Shares {
			rates = append(rates, one.Rate)
		}
	}
	slices.SortFunc(rates, func(a, b float64) int { return cmp.Compare(b, a) })
	return slices.CompactFunc(rates, sameRate)
}

// shareFigure is the share of the time at a rate.
func shareFigure(rate float64) figure {
	return figure{label: fmt.Sprintf("at %s fps (%.1f ms)", trimmed(rate), 1000/rate),
		value: func(c *figures.Capture) string {
			part := 0.0
			for _, one := range c.Figures.Shares {
				if sameRate(one.Rate, rate) {
					part = one.Part
				}
			}
			return ifAny(c.Figures.Seen > 0 && c.Refresh.Valid(), share(part))
		},
		change: func(c, first *figures.Capture) string {
			if c.Difference == nil || c.Refresh != first.Refresh {
				return ""
			}
			for _, one := range c.Difference.Shares {
				if sameRate(one.Rate, rate) {
					return points(one.Part)
				}
			}
			return points(0)
		}}
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
