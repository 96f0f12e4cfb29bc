package main

import (
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

var (
	captureSize = image.Pt(480, 270)
	captureRate = pacing.Rate{Num: 60, Den: 1}
)

const captureFrames = 36

// kind is how a capture's pictures are coded.
type kind struct {
	name   string
	raw    string // pixel format in which Go writes them
	deep   bool
	full   bool
	planes int // that have as many samples as luma
	args   []string
	tags   [4]string // range, matrix, primaries, transfer
}

var sdr = [4]string{"tv", "bt709", "bt709", "bt709"}

var kinds = []kind{
	{name: "plain", raw: "yuv420p", planes: 1, args: lossless, tags: sdr},
	{name: "avc", raw: "yuv420p", planes: 1, args: []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", "12", "-g", "15", "-f", "matroska"}, tags: sdr},
	{name: "full", raw: "yuv420p", planes: 1, full: true, args: lossless, tags: [4]string{"pc", "bt709", "bt709", "bt709"}},
	{name: "mjpeg", raw: "yuvj420p", planes: 1, full: true, args: []string{"-c:v", "mjpeg", "-q:v", "2", "-f", "matroska"}, tags: [4]string{"pc", "bt470bg", "bt709", "bt709"}},
	{name: "dense", raw: "yuv444p", planes: 3, args: lossless, tags: sdr},
	{name: "deep", raw: "yuv420p10le", deep: true, planes: 1, args: lossless, tags: sdr},
	{name: "rgb", raw: "gbrp", planes: 3, full: true, args: lossless, tags: [4]string{"pc", "rgb", "bt709", "bt709"}},
	{name: "sd", raw: "yuv420p", planes: 1, args: lossless, tags: [4]string{"tv", "smpte170m", "smpte170m", "smpte170m"}},
	{name: "wide", raw: "yuv420p10le", deep: true, planes: 1, args: lossless, tags: [4]string{"tv", "bt2020nc", "bt2020", "bt709"}},
	{name: "pq", raw: "yuv420p10le", deep: true, planes: 1, args: lossless, tags: [4]string{"tv", "bt2020nc", "bt2020", "smpte2084"}},
	{name: "hlg", raw: "yuv420p10le", deep: true, planes: 1, args: lossless, tags: [4]string{"tv", "bt2020nc", "bt2020", "arib-std-b67"}},
}

var lossless = []string{"-c:v", "ffv1", "-level", "3", "-g", "1", "-f", "matroska"}

// makeCaptures writes a capture of each kind for each machine, and a log for each.
func makeCaptures(ctx context.Context, tools *media.Tools, dir string) error {
	for i, key := range []string{"alder", "birch", "cedar"} {
		log := "time_s,frame_time_ms,tear\n"
		for at := 0; at < captureFrames; at += 1 + i {
			log += fmt.Sprintf("%.6f,%.6f,\n", float64(at)/60, float64(1+i)*1000/60)
		}
		if err := os.WriteFile(filepath.Join(dir, key+".csv"), []byte(log), 0o666); err != nil {
			return err
		}
		for _, k := range kinds {
			args := append([]string{"-color_range", k.tags[0], "-colorspace", k.tags[1], "-color_primaries", k.tags[2], "-color_trc", k.tags[3]}, k.args...)
			spec := media.EncodeSpec{Out: filepath.Join(dir, key+"-"+k.name+".mkv"), Size: captureSize, PixFmt: k.raw, Rate: captureRate, Args: args}
			if err := tools.Encode(ctx, spec, func(w io.Writer) error { return k.film(w, i) }); err != nil {
				return fmt.Errorf("%s: %w", k.name, err)
			}
		}
	}
	return nil
}

// film writes pictures of waves, edges and fine detail that move with the frames and
// tell the captures apart.
func (k kind) film(w io.Writer, capture int) error {
	for n := range captureFrames {
		var p []byte
		for plane := range 3 {
			size := captureSize
			if plane > 0 && k.planes == 1 {
				size = image.Pt((size.X+1)/2, (size.Y+1)/2)
			}
			scale := captureSize.X / size.X
			for y := range size.Y {
				for x := range size.X {
					v := picture(capture, n, x*scale, y*scale, plane)
					if !k.full {
						v = 16 + v*219/255
					}
					if !k.deep {
						p = append(p, byte(math.Round(v)))
						continue
					}
					code := uint16(math.Round(4 * v))
					p = append(p, byte(code), byte(code>>8))
				}
			}
		}
		if _, err := w.Write(p); err != nil {
			return err
		}
	}
	return nil
}

// picture is a code from 0 to 255 at a place.
func picture(capture, n, x, y, plane int) float64 {
	phase := float64(x+3*n)/(19+4*float64(capture)) + float64(y)/27 + 2*float64(plane)
	v := 127.5 + 70*math.Sin(phase)/float64(1+plane)
	if plane == 0 {
		if (x/4+y/4+n)%5 == 0 { // fine detail
			v += 40
		}
		if (x+6*n+80*capture)%160 < 24 { // an edge that moves
			v = 250 - v/4
		}
	}
	return min(max(v, 0), 255)
}

// file is one comparison file: scenes of a pair or triple of capture kinds in one delivery.
type file struct {
	name, delivery string
	size           string
	kinds          [3]string
	scenes         []string // their keys; without captures: alder and birch
	quick          bool     // among the few
	farthest       int      // how far apart codes may be; 0: farthestCode
}

// farthest is how far apart the codes of a file's clips may be.
func farthest(name string) int {
	for _, f := range files {
		if f.name == name && f.farthest > 0 {
			return f.farthest
		}
	}
	return farthestCode
}

func of(kind string) [3]string { return [3]string{kind, kind, kind} }

const hdrLossless = "hdr, effort: quick, ffmpeg: [-x265-params, lossless=1]"

var shown = []string{
	"view: columns",
	"view: columns, window: {magnify: 137/100, center: [0.45, 0.55]}",
}

var files = []file{
	{name: "views", delivery: "lossless", size: "640x360", kinds: of("avc"), quick: true, scenes: []string{
		"view: columns",
		"view: columns, captures: [alder, birch, cedar]",
		"view: rows",
		"view: single, single: birch",
		"view: inset",
		"view: inset, inset: {whole: birch, place: over}",
		"view: wipe, wipe: {at: 0.4}",
		"view: wipe, captures: [alder, birch, cedar], wipe: {angle: 20, at: [0.3, 0.6]}",
		"view: wipe, wipe: {angle: -30, swing: 500ms, at: 0.4}",
		"view: wipe, wipe: {keys: [{t: 0s, at: 0.2}, {t: 100ms, at: 0.8}]}",
		"view: alternate, alternate: {every: 100ms}",
		"view: difference, difference: {gain: 3/2}",
		"view: difference, difference: {show: alone, of: colour, gain: 2}",
	}},
	{name: "decks", delivery: "lossless", size: "640x360", kinds: of("avc"), scenes: []string{
		"deck: {place: below}, caption: A caption, marks: [{box: [0.4, 0.4, 0.2, 0.2], note: here}, {arrow: [[0.3, 0.3], [0.5, 0.5]]}]",
		"deck: {place: over}, view: columns",
		"deck: {place: over}, view: wipe, wipe: {at: 0.4}",
		"deck: {place: none}",
		"deck: {place: none, tabs: true}, view: rows",
		"title: 100ms, summary: 100ms",
		"title: 100ms, summary: 100ms, deck: {place: over}",
	}},
	{name: "upright", delivery: "lossless", size: "360x640", kinds: of("avc"), scenes: []string{"view: columns", "view: rows, deck: {place: over}"}},
	{name: "kernels", delivery: "lossless", size: "640x360", kinds: of("plain"), scenes: []string{
		"window: {magnify: 3, kernel: nearest}",
		"window: {magnify: 137/100, kernel: bicubic, center: [0.6, 0.35]}",
		"window: {magnify: 3/2, kernel: lanczos, center: [0.45, 0.5]}",
		"window: {magnify: 0.6, kernel: lanczos}",
		"window: whole",
		"window: {moves: [{at: 0s, center: [0.4, 0.5]}, {at: 100ms, center: [0.55, 0.6], magnify: 1.4}]}",
	}},
	{name: "time", delivery: "lossless", size: "640x360", kinds: of("avc"), scenes: []string{
		"speed: 0.25",
		"speed: 2",
		"speed: 0.5, hold: [{at: 50ms, for: 100ms}]",
	}},
	{name: "full", delivery: "lossless", size: "640x360", kinds: of("full"), quick: true, scenes: shown},
	// The scale filter of ffmpeg 9.0 rounds chroma up when it makes full range limited: by
	// 0.45 of a code on average, where 5.1 and 7.1 are right to half a code. Two pictures
	// that are a code off each, and a gain of 2, are up to 4 codes.
	{name: "full-difference", delivery: "lossless", size: "640x360", kinds: of("full"), quick: true, farthest: 4,
		scenes: []string{"view: difference, difference: {of: colour, gain: 2}"}},
	{name: "mjpeg", delivery: "lossless", size: "640x360", kinds: of("mjpeg"), quick: true, scenes: shown},
	{name: "dense", delivery: "lossless", size: "640x360", kinds: of("dense"), scenes: shown},
	{name: "deep", delivery: "lossless", size: "640x360", kinds: of("deep"), quick: true, scenes: shown},
	{name: "rgb", delivery: "lossless", size: "640x360", kinds: of("rgb"), scenes: shown},
	{name: "sd", delivery: "lossless", size: "640x360", kinds: of("sd"), scenes: shown},
	{name: "wide", delivery: "lossless", size: "640x360", kinds: of("wide"), scenes: shown},
	{name: "mixed", delivery: "lossless", size: "640x360", kinds: [3]string{"mjpeg", "dense", "pq"}, scenes: []string{"captures: [alder, birch, cedar]", "view: wipe, wipe: {at: 0.4}"}},
	{name: "pq", delivery: "lossless", size: "640x360", kinds: of("pq"), quick: true, scenes: shown},
	{name: "hlg", delivery: "lossless", size: "640x360", kinds: of("hlg"), scenes: shown},
	{name: "hdr-pq", delivery: hdrLossless, size: "640x360", kinds: of("pq"), quick: true, scenes: append([]string{
		"view: difference, difference: {gain: 3/2}", "title: 100ms, summary: 100ms"}, shown...)},
	// The overlay filter of ffmpeg 5.1 and 7.1 takes the alpha of chroma in 10 bits from rows
	// 2n and 2n+2 instead of 2n and 2n+1: it is off beside edges of what is laid over.
	{name: "hdr-pq-over", delivery: hdrLossless, size: "640x360", kinds: of("pq"), quick: true, farthest: 24, scenes: []string{
		"view: wipe, captures: [alder, birch, cedar], wipe: {angle: -30, at: [0.3, 0.6]}, deck: {place: over}"}},
	{name: "hdr-hlg", delivery: hdrLossless, size: "640x360", kinds: of("hlg"), quick: true, scenes: shown},
	{name: "hdr-mixed", delivery: hdrLossless, size: "640x360", kinds: [3]string{"pq", "full", "hlg"}, scenes: []string{"captures: [alder, birch, cedar]"}},
}

// writeFiles writes the comparison files.
func writeFiles(dir string, quick bool) error {
	for _, f := range files {
		if quick && !f.quick {
			continue
		}
		var b strings.Builder
		fmt.Fprintf(&b, "title: Kestrel Pass\noutput: {folder: out-%s, size: %s, rate: 60, delivery: %s}\ncaptures:\n", f.name, f.size, f.delivery)
		for i, key := range []string{"alder", "birch", "cedar"} {
			fmt.Fprintf(&b, "  %s: {name: %s, video: ../%s-%s.mkv, pacing: ../%s.csv}\n", key, strings.ToUpper(key[:1])+key[1:], key, f.kinds[i], key)
		}
		fmt.Fprintf(&b, "defaults: {captures: [alder, birch], start: 50ms, length: 200ms, audio: none}\nscenes:\n")
		for i, s := range f.scenes {
			if !strings.Contains(s, "captures:") {
				s = "start: {alder: f3, birch: f5}, " + s
			}
			fmt.Fprintf(&b, "  - {id: s%02d, %s}\n", i+1, s)
		}
		if err := os.WriteFile(filepath.Join(dir, f.name+".yaml"), []byte(b.String()), 0o666); err != nil {
			return err
		}
	}
	return nil
}
