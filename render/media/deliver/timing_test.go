package deliver

import (
	"fmt"
	"image"
	"io"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/media/mediatest"
	"fairframe/render/pacing"
)

// stamping is a way in which a recorder stamps pictures at a rate.
type stamping struct {
	name string
	args func(r pacing.Rate) []string // of ffmpeg, over pictures numbered from 0 at rate r
	grid bool                         // it keeps to the rate's grid
	same bool                         // it is constant
}

// clockArgs count stamps in 1/90000 s by an expression of N, in seconds.
func clockArgs(seconds string) func(pacing.Rate) []string {
	return func(r pacing.Rate) []string {
		return []string{"-vf", fmt.Sprintf("settb=1/90000,setpts='round((%s)*90000)'", fmt.Sprintf(seconds, fmt.Sprintf("(%d/%d)", r.Den, r.Num))),
			"-fps_mode", "passthrough", "-enc_time_base", "1/90000"}
	}
}

func selecting(expr string) func(pacing.Rate) []string {
	return func(pacing.Rate) []string {
		return []string{"-vf", "select='" + expr + "'", "-fps_mode", "passthrough"}
	}
}

// The expressions count pictures as N or n and know the frame time as %s.
var stampings = []stamping{
	{"constant", func(pacing.Rate) []string { return []string{"-fps_mode", "passthrough"} }, true, true},
	{"jittered", clockArgs("N*%[1]s+0.35*%[1]s*sin(N*7)"), false, false},
	{"wandering", clockArgs("(N+8*sin(N/20))*%[1]s"), false, false},
	{"doubled", clockArgs("(N-eq(mod(N,20),19))*%[1]s"), true, false},
	{"missing", selecting("not(between(mod(n,50),30,33))"), true, false},
	{"repeats left out", selecting("not(mod(n,2))+gt(n,150)"), true, false},
	{"long stand", selecting("lt(n,60)+gt(n,150)"), true, false},
}

var stampedSize = image.Pt(320, 64)

// stampedCapture makes a capture of pictures numbered from 0, stamped in that way.
func stampedCapture(t testing.TB, c codec, s stamping, r pacing.Rate, n int) string {
	t.Helper()
	size := stampedSize
	path := filepath.Join(t.TempDir(), "capture"+c.ext)
	args := append(s.args(r), c.args...)
	if muxer := muxers[c.ext]; muxer == "mp4" || muxer == "mov" {
		args = append(args, "-video_track_timescale", "90000")
	}
	args = append(args, "-f", muxers[c.ext])
	err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: r, Args: args}, mediatest.Film(size, n))
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// decodedStamps are a file's stamps, exact and from the first on, and the numbers in
// its pictures, as plain runs of ffprobe and ffmpeg tell them: of this package only the
// reader of bar codes is involved.
func decodedStamps(t testing.TB, path string) (list []*big.Rat, numbers []int) {
	t.Helper()
	tl := tools(t)
	var text strings.Builder
	err := tl.Run(t.Context(), media.Process{Program: tl.FFprobe, What: "ffprobe", Stdout: media.ReadInto(&text),
		Args: []string{"-v", "error", "-select_streams", "v:0", "-show_entries", "frame=best_effort_timestamp:stream=time_base", "-of", "csv=p=0:nk=1", path}})
	if err != nil {
		t.Fatal(err)
	}
	var unit *big.Rat
	var units []int64
	for _, field := range strings.FieldsFunc(text.String(), func(r rune) bool { return r == '\n' || r == ',' }) {
		if strings.Contains(field, "/") {
			unit, _ = new(big.Rat).SetString(field)
		} else if v, err := strconv.ParseInt(field, 10, 64); err == nil {
			units = append(units, v)
		}
	}
	for _, v := range units {
		list = append(list, new(big.Rat).Mul(big.NewRat(v-units[0], 1), unit))
	}
	err = tl.Run(t.Context(), media.Process{Program: tl.FFmpeg, What: "ffmpeg",
		Args: []string{"-v", "error", "-i", path, "-map", "0:v:0", "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray", "-"},
		Stdout: func(r io.Reader) error {
			buf := make([]byte, stampedSize.X*stampedSize.Y)
			for {
				if _, err := io.ReadFull(r, buf); err != nil {
					return nil
				}
				v, err := mediatest.Read(buf[:stampedSize.X], float64(stampedSize.X)/2, float64(mediatest.BarWidth(stampedSize.X)))
				if err != nil {
					return err
				}
				numbers = append(numbers, v)
			}
		}})
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != len(numbers) || len(list) == 0 || unit == nil {
		t.Fatalf("%s: %d stamps, %d pictures", path, len(list), len(numbers))
	}
	return list, numbers
}

// placed are stamps without what the container rounded: of a recorder that keeps to a
// grid, its places.
func (s stamping) placed(list []*big.Rat, r pacing.Rate) []*big.Rat {
	if !s.grid {
		return list
	}
	var out []*big.Rat
	for _, v := range list {
		n := new(big.Rat).Mul(v, big.NewRat(2*r.Num, r.Den))
		n.Add(n, big.NewRat(1, 1))
		places := new(big.Int).Div(n.Num(), new(big.Int).Mul(big.NewInt(2), n.Denom()))
		out = append(out, new(big.Rat).Mul(new(big.Rat).SetInt(places), big.NewRat(r.Den, r.Num)))
	}
	return out
}

// lastBefore is the definition: the last picture whose stamp is not after a time.
func lastBefore(list []*big.Rat, at *big.Rat) int {
	n := 0
	for i, v := range list {
		if v.Cmp(at) <= 0 {
			n = i
		}
	}
	return n
}

// TestEveryStamp renders clips of captures whose recorders stamp them in all kinds of
// ways, and compares each frame's bar code with the definition: on screen is the last
// picture whose stamp is not after the time. It reads all pictures one by one as well,
// with their times.
//
// Each run tries each way with one container and rate; FAIRFRAME_SWEEP=1 tries all.
func TestEveryStamp(t *testing.T) {
	sweep := os.Getenv("FAIRFRAME_SWEEP") != ""
	x264 := []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "50", "-bf", "2"}
	containers := []codec{
		{"h264", ".mkv", x264}, {"h264", ".mp4", x264}, {"h264", ".mov", x264}, {"h264", ".flv", x264}, {"h264", ".ts", x264},
		{"vp8", ".webm", []string{"-c:v", "libvpx", "-deadline", "realtime", "-cpu-used", "8", "-crf", "10", "-b:v", "4M"}},
		{"ffv1", ".mkv", []string{"-c:v", "ffv1"}},
	}
	rates := []pacing.Rate{hz60, hz30, {Num: 24000, Den: 1001}, hz5994, hz120, {Num: 144, Den: 1}, {Num: 240, Den: 1}, {Num: 25, Den: 1}}
	outs := []pacing.Rate{hz60, hz30, hz5994}
	i := 0
	for v, s := range stampings {
		for w, c := range containers {
			for x, r := range rates {
				if i++; !sweep && (w != v%len(containers) || x != (v+w)%len(rates)) {
					continue
				}
				out := outs[(v+w+x)%len(outs)]
				t.Run(fmt.Sprintf("%s %s%s at %v in %v", s.name, c.name, c.ext, r, out), func(t *testing.T) {
					t.Parallel()
					checkStamps(t, s, c, r, out)
				})
			}
		}
	}
}

func checkStamps(t *testing.T, s stamping, c codec, r, out pacing.Rate) {
	path := stampedCapture(t, c, s, r, 240)
	tl := tools(t)
	capture, err := tl.Probe(t.Context(), path)
	if err == nil && !capture.Variable() && !s.same {
		// As its stamps say farther on.
		capture, err = tl.Reread(t.Context(), path)
	}
	if err != nil {
		t.Fatal(err)
	}
	if capture.Variable() == s.same || capture.Variable() && (capture.Refresh() == r) != s.grid || s.grid && capture.Rate != r {
		t.Fatalf("variable %v, rate %v, stamps %+v", capture.Variable(), capture.Rate, capture.Stamping())
	}
	list, bars := decodedStamps(t, path)
	list = s.placed(list, r)
	checkTable(t, capture, list, bars)
	length := new(big.Rat).Mul(list[len(list)-1], big.NewRat(7, 10))
	frames := media.Floor(new(big.Rat).Mul(length, big.NewRat(out.Num, out.Den)))
	for _, start := range []int{0, len(list) / 5} {
		at := capture.TimeOf(int64(start))
		clip := columns(t, image.Pt(160, stampedSize.Y), out, frames, []media.Capture{capture}, []time.Duration{at}, centred)
		clip.Sound = graph.Sound{}
		made, err := Render(t.Context(), tl, clip, filepath.Join(t.TempDir(), "clip.mkv"), nil)
		if err != nil {
			t.Fatal(err)
		}
		for k, seen := range numbers(t, clip, made.Clip) {
			then := new(big.Rat).Add(list[start], big.NewRat(int64(k)*out.Den, out.Num))
			if want := bars[lastBefore(list, then)]; seen[0] != want {
				t.Fatalf("from picture %d: output frame %d shows %d, on screen is %d", start, k, seen[0], want)
			}
		}
	}
}

// checkTable compares what a capture tells of its pictures with their stamps, and the
// pictures themselves.
func checkTable(t *testing.T, c media.Capture, list []*big.Rat, bars []int) {
	t.Helper()
	for i, v := range list {
		want, _ := new(big.Rat).Mul(v, big.NewRat(int64(time.Second), 1)).Float64()
		at := c.TimeOf(int64(i))
		if math.Abs(float64(at)-want) > 1000 {
			t.Fatalf("picture %d begins at %v, its stamp says %v", i, at, time.Duration(want))
		}
		if got := c.FrameAt(at); got != int64(lastBefore(list, v)) {
			t.Fatalf("on screen at %v is picture %d, not %d", at, i, got)
		}
	}
	for _, from := range []int64{0, int64(len(list) / 3)} {
		n := 0
		_, err := tools(t).DecodeVideo(t.Context(), c, media.Request{From: from, Count: 50}, func(k int64, picture *[]byte) error {
			luma := *picture
			v, err := mediatest.Read(luma[:stampedSize.X], float64(stampedSize.X)/2, float64(mediatest.BarWidth(stampedSize.X)))
			if err == nil && v != bars[k] {
				err = fmt.Errorf("picture %d is %d, not %d", k, v, bars[k])
			}
			n++
			return err
		})
		if err != nil || n < 50 {
			t.Fatalf("from %d: %d pictures: %v", from, n, err)
		}
	}
}
