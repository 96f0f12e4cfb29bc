package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"
	"time"

	"fairframe/render/figures"
	"fairframe/render/finding"
	"fairframe/render/pacing"
)

// The types in this file are the shape of figures --format json, version 1. Their
// tags make the listing in the help and, in the tests, the JSON Schema of
// examples/figures.schema.json:
//
//	json  the key; its ending is the unit: _s seconds, _ms milliseconds, _fps and
//	      _hz a second, _share a part of 1, _percent a hundredth; of sound
//	      _lufs, _lu, _dbtp and _db, see the help
//	doc   what the value is
//
// Pointers are null where there is nothing to tell from. A later version may add
// keys; what a key means changes only with the version.
type figuresJSON struct {
	Version int                `json:"version" doc:"of this shape: 1"`
	Scenes  []sceneFiguresJSON `json:"scenes" doc:"in the order of the file"`
}

type sceneFiguresJSON struct {
	Scene    string               `json:"scene" doc:"the scene's id"`
	Length   float64              `json:"length_s" doc:"of the scene; times of the scene count from its start"`
	Captures []captureFiguresJSON `json:"captures" doc:"in the order shown"`
	Warnings []string             `json:"warnings" doc:"what to know of the logs and captures"`
}

type captureFiguresJSON struct {
	Capture    string      `json:"capture" doc:"its key in the comparison file"`
	Name       string      `json:"name" doc:"as shown"`
	Detail     string      `json:"detail" doc:"second text of the name tab, may be empty"`
	Raster     *rasterJSON `json:"raster" doc:"resolution as the reviewer states it"`
	PixelRatio *float64    `json:"pixel_ratio_percent" doc:"pixels more than the first raster that the file states"`
	Start      float64     `json:"start_s" doc:"capture time of the scene's start"`
	Refresh    float64     `json:"refresh_hz" doc:"the capture's rate; 0 of one that keeps to none"`
	Rate       string      `json:"refresh" doc:"the same as an exact fraction, such as 60000/1001, or none"`

	Frames    int         `json:"frames" doc:"frames that begin in the scene"`
	Unseen    int         `json:"never_shown" doc:"of these, those that the clip never shows"`
	Seen      float64     `json:"seen_s" doc:"time in which frames were seen"`
	Still     float64     `json:"still_s" doc:"time in which the picture did not change"`
	Unknown   float64     `json:"unknown_s" doc:"time that the log does not cover"`
	Ceiling   float64     `json:"ceiling_s" doc:"time with every picture new: rates are at least so"`
	Mean      *float64    `json:"mean_fps" doc:"frames over time"`
	Slow      *float64    `json:"slowest_1_percent_fps" doc:"mean rate over the longest 1 % of the frames"`
	MeanTime  *float64    `json:"mean_ms" doc:"mean frame time"`
	Deviation *float64    `json:"deviation_ms" doc:"standard deviation of the frame times, population"`
	Median    *float64    `json:"median_ms" doc:"median frame time, Hyndman and Fan type 7"`
	P95       *float64    `json:"p95_ms" doc:"95th percentile of the frame times, type 7"`
	P99       *float64    `json:"p99_ms" doc:"99th percentile of the frame times, type 7"`
	Longest   *float64    `json:"longest_ms" doc:"longest frame time"`
	Shares    []shareJSON `json:"multiples" doc:"time at each refresh multiple, the shortest first"`
	OffGrid   *float64    `json:"off_grid_share" doc:"part of the seen time in frames of no multiple"`
	Hitches   []hitchJSON `json:"hitches" doc:"frames longer than hitch_ms"`
	HitchTime float64     `json:"hitch_ms" doc:"twice the slowest median of the scene's captures"`
	Torn      int         `json:"torn" doc:"frames that appeared in mid-picture"`
	Doubtful  int         `json:"doubtful" doc:"frames for which the evidence was weak"`
	Doubt     *float64    `json:"doubtful_share" doc:"part of the seen time in doubtful frames"`

	Difference *differenceJSON `json:"difference" doc:"to the scene's first capture; null for itself"`
	Spans      []spanJSON      `json:"spans" doc:"stretches of one way of pacing"`

	Sound           *soundJSON           `json:"sound" doc:"of the capture in the scene; null: it has none"`
	SoundDifference *soundDifferenceJSON `json:"sound_difference" doc:"to the first capture's; null where one has none"`
}

type rasterJSON struct {
	Width  int `json:"width" doc:"pixels"`
	Height int `json:"height" doc:"pixels"`
}

type shareJSON struct {
	Refreshes int     `json:"refreshes" doc:"frame time in refreshes"`
	Rate      float64 `json:"rate_fps" doc:"of such frames"`
	FrameTime float64 `json:"frame_time_ms" doc:"of such frames"`
	Frames    int     `json:"frames" doc:"such frames that begin in the scene"`
	Time      float64 `json:"time_s" doc:"time they were on screen"`
	Part      float64 `json:"time_share" doc:"part of the seen time"`
}

type hitchJSON struct {
	At        float64 `json:"at_s" doc:"scene time of its beginning"`
	FrameTime float64 `json:"frame_time_ms" doc:"how long it stayed"`
}

type differenceJSON struct {
	Against     string         `json:"against" doc:"key of the first capture"`
	Mean        float64        `json:"mean_fps" doc:"this capture's minus the other's, like all here"`
	MeanPercent float64        `json:"mean_percent" doc:"of the other's mean rate"`
	Slow        float64        `json:"slowest_1_percent_fps" doc:"mean rate over the slowest 1 %"`
	SlowPercent float64        `json:"slowest_1_percent_percent" doc:"of the other's"`
	MeanTime    float64        `json:"mean_ms" doc:"mean frame time"`
	Deviation   float64        `json:"deviation_ms" doc:"standard deviation"`
	Median      float64        `json:"median_ms" doc:"median frame time"`
	P95         float64        `json:"p95_ms" doc:"95th percentile"`
	P99         float64        `json:"p99_ms" doc:"99th percentile"`
	Longest     float64        `json:"longest_ms" doc:"longest frame time"`
	Shares      []shareDifJSON `json:"multiples" doc:"empty where the refresh rates differ"`
	OffGrid     *float64       `json:"off_grid_share" doc:"null where the refresh rates differ"`
	Hitches     int            `json:"hitches" doc:"number of hitches"`
	Torn        int            `json:"torn" doc:"number of torn frames"`
}

type shareDifJSON struct {
	Refreshes int     `json:"refreshes" doc:"frame time in refreshes"`
	Rate      float64 `json:"rate_fps" doc:"of such frames"`
	Part      float64 `json:"time_share" doc:"difference of the parts, -1 to 1"`
}

type spanJSON struct {
	Kind      string   `json:"kind" doc:"hold, cadence, mixed, unlocked, varying or still"`
	From      float64  `json:"from_s" doc:"scene time"`
	To        float64  `json:"to_s" doc:"scene time"`
	Frames    int      `json:"frames" doc:"frames that begin in it"`
	Mean      *float64 `json:"mean_fps" doc:"frames over time"`
	Multiples []int    `json:"refreshes" doc:"hold: its multiple; cadence: the pattern; mixed: all"`
	Strays    int      `json:"strays" doc:"frames that break a hold or a mix"`
	Words     string   `json:"words" doc:"the span in words"`
}

func figuresDocument(scenes []*figures.Scene) figuresJSON {
	doc := figuresJSON{Version: 1, Scenes: []sceneFiguresJSON{}}
	for _, s := range scenes {
		scene := sceneFiguresJSON{Scene: s.Scene.ID, Length: rounded(s.Scene.Length.Seconds()),
			Captures: []captureFiguresJSON{}, Warnings: append([]string{}, finding.Warnings(s.Warnings)...)}
		for i := range s.Captures {
			c := captureDocument(&s.Captures[i], s.Captures[0])
			if base := s.Captures[i].Base.Raster; c.Raster != nil && base.X > 0 {
				own := float64(c.Raster.Width) * float64(c.Raster.Height)
				c.PixelRatio = known(true, 100*(own/(float64(base.X)*float64(base.Y))-1))
			}
			scene.Captures = append(scene.Captures, c)
		}
		doc.Scenes = append(doc.Scenes, scene)
	}
	return doc
}

func captureDocument(c *figures.Capture, first figures.Capture) captureFiguresJSON {
	f := &c.Figures
	any := f.Count > 0
	out := captureFiguresJSON{
		Capture: c.Key, Name: c.Name, Detail: c.Detail, Start: rounded(c.Start.Seconds()),
		Refresh: rounded(c.Refresh.Hz()), Rate: refreshText(c.Refresh, ""),
		Frames: f.Count, Unseen: c.NeverShown, Seen: rounded(f.Seen.Seconds()),
		Still: rounded(f.Still.Seconds()), Unknown: rounded(f.Unknown.Seconds()),
		Ceiling: rounded(f.Ceiling.Seconds()),
		Mean:    known(f.Seen > 0, rate(f.MeanRate)), Slow: known(any, rate(f.SlowRate)),
		MeanTime: known(any, millis(f.Mean)), Deviation: known(any, millis(f.Deviation)),
		Median: known(any, millis(f.Median)), P95: known(any, millis(f.P95)), P99: known(any, millis(f.P99)),
		Longest: known(any, millis(f.Longest)),
		Shares:  []shareJSON{}, OffGrid: known(f.Seen > 0 && c.Refresh.Valid(), f.OffGrid.Part),
		Hitches: []hitchJSON{}, HitchTime: millis(f.HitchTime), Torn: f.Torn,
		Doubtful: f.Doubtful, Doubt: known(f.Seen > 0, f.Doubt.Part()),
		Spans: []spanJSON{},
	}
	if c.Raster.X > 0 && c.Raster.Y > 0 {
		out.Raster = &rasterJSON{c.Raster.X, c.Raster.Y}
	}
	for _, s := range f.Shares {
		out.Shares = append(out.Shares,
			shareJSON{s.Multiple, rounded(s.Rate), millis(c.Refresh.TimeOf(int64(s.Multiple))), s.Frames,
				rounded(s.Time.Seconds()), rounded(s.Part)})
	}
	for _, h := range f.Hitches {
		out.Hitches = append(out.Hitches, hitchJSON{rounded(c.InScene(h.Begin).Seconds()), millis(h.Time)})
	}
	for i, words := range c.Sentences() {
		s := &c.Spans[i]
		out.Spans = append(out.Spans, spanJSON{s.Kind.String(), rounded(c.InScene(s.From).Seconds()),
			rounded(c.InScene(s.To).Seconds()), s.Frames,
			known(s.Kind != pacing.StillSpan, rate(s.MeanRate)), append([]int{}, s.Multiples...),
			len(s.Strays), words})
	}
	if d := c.Difference; d != nil {
		out.Difference = &differenceJSON{
			Against: first.Key, Mean: rounded(d.MeanRate), MeanPercent: rounded(d.MeanRatePercent),
			Slow: rounded(d.SlowRate), SlowPercent: rounded(d.SlowRatePercent),
			MeanTime: millis(d.Mean), Deviation: millis(d.Deviation), Median: millis(d.Median),
			P95: millis(d.P95), P99: millis(d.P99), Longest: millis(d.Longest),
			Shares: []shareDifJSON{}, OffGrid: known(c.Refresh == first.Refresh, d.OffGrid),
			Hitches: d.Hitches, Torn: d.Torn,
		}
		for _, s := range d.Shares {
			out.Difference.Shares = append(out.Difference.Shares,
				shareDifJSON{s.Multiple, rounded(s.Rate), rounded(s.Part)})
		}
	}
	out.Sound, out.SoundDifference = soundDocument(c, first.Key)
	return out
}

func writeFiguresJSON(w io.Writer, scenes []*figures.Scene) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(figuresDocument(scenes))
}

// known returns the number, or nil where there is none.
func known(is bool, v float64) *float64 {
	if !is {
		return nil
	}
	v = rounded(v)
	return &v
}

// rounded keeps six decimals: nanoseconds of a millisecond, and more than any
// rate is worth.
func rounded(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// rate keeps four decimals: a frame time that is rounded to nanoseconds makes
// 59.9999988 fps of a steady 60.
func rate(v float64) float64 { return math.Round(v*1e4) / 1e4 }

func millis(d time.Duration) float64 { return rounded(float64(d) / float64(time.Millisecond)) }

// describeJSON lists the keys of a document's type with what they mean.
func describeJSON(w io.Writer, v any, indent string) { describeType(w, reflect.TypeOf(v), indent) }

// describedJSON is that list as text.
func describedJSON(v any) string {
	var b strings.Builder
	describeJSON(&b, v, "  ")
	return strings.TrimSuffix(b.String(), "\n")
}

func describeType(w io.Writer, t reflect.Type, indent string) {
	for i := range t.NumField() {
		f := t.Field(i)
		inner, many := f.Type, ""
		for inner.Kind() == reflect.Pointer || inner.Kind() == reflect.Slice {
			if inner.Kind() == reflect.Slice {
				many = "[]"
			}
			inner = inner.Elem()
		}
		key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		fmt.Fprintf(w, "%s%s%s\n", indent, padded(key+many, 40-len(indent)), f.Tag.Get("doc"))
		if inner.Kind() == reflect.Struct {
			describeType(w, inner, indent+"  ")
		}
	}
}

func padded(s string, n int) string { return s + strings.Repeat(" ", max(1, n-len(s))) }
