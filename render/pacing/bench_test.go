package pacing

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"testing"
	"time"
)

// benchLog is a log of n rows in the tool's own format.
func benchLog(b *testing.B, n int) []byte {
	var w bytes.Buffer
	counts := make([]int, n)
	for i := range counts {
		counts[i] = 1 + i%3
	}
	if err := WriteLog(&w, []string{"a comment"}, onGrid(at60, 0, counts...)); err != nil {
		b.Fatal(err)
	}
	return w.Bytes()
}

// rowsPerSecond reports a benchmark over logs of n rows each.
func rowsPerSecond(b *testing.B, n int) {
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkScanner(b *testing.B) {
	const n = 200_000
	log := benchLog(b, n)
	var foreign bytes.Buffer
	foreign.WriteString("frame;\"time, ms\";note\n")
	for i := range n {
		fmt.Fprintf(&foreign, "%d;16,%04d;\"a; b\"\n", i, i%10000)
	}
	for _, c := range []struct {
		name   string
		log    []byte
		format Format
	}{
		{"own", log, Format{}},
		{"frame-time", log, Format{Column: "frame_time_ms", Means: FrameTime}},
		{"time-stamp", log, Format{Column: "time_s", Means: TimeStamp}},
		{"quoted", foreign.Bytes(), Format{Column: "time, ms", Means: FrameTime}},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(len(c.log)))
			for b.Loop() {
				s := NewScanner(bytes.NewReader(c.log), "log", c.format, at60)
				rows := 0
				for s.Scan() {
					if s.Record().Err != nil {
						b.Fatal(s.Record().Err)
					}
					rows++
				}
				if s.Err() != nil || rows < n-1 {
					b.Fatal(rows, s.Err())
				}
			}
			rowsPerSecond(b, n)
		})
	}
}

// BenchmarkCSV is what encoding/csv takes to split the same log, before any
// number is read: header.split is compared with it.
func BenchmarkCSV(b *testing.B) {
	const n = 200_000
	log := benchLog(b, n)
	b.ReportAllocs()
	b.SetBytes(int64(len(log)))
	for b.Loop() {
		r := csv.NewReader(bytes.NewReader(log))
		r.Comment, r.ReuseRecord = '#', true
		for {
			if _, err := r.Read(); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
	}
	rowsPerSecond(b, n)
}

func BenchmarkReadTrace(b *testing.B) {
	const n = 200_000
	log := benchLog(b, n)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := ReadTrace(bytes.NewReader(log), "log", Format{}, at60, 0, math.MaxInt64); err != nil {
			b.Fatal(err)
		}
	}
	rowsPerSecond(b, n)
}

func BenchmarkRateAt(b *testing.B) {
	counts := make([]int, 100_000)
	for i := range counts {
		counts[i] = 1 + i%3
	}
	tr := mustTrace(b, onGrid(at60, 0, counts...))
	τ := time.Duration(0)
	for b.Loop() {
		if _, ok := tr.RateAt(τ, time.Second); !ok {
			b.Fatal(τ)
		}
		τ = (τ + 16666667) % tr.End()
	}
}

func BenchmarkFigures(b *testing.B) {
	counts := make([]int, 100_000)
	for i := range counts {
		counts[i] = 1 + i%3
	}
	tr := mustTrace(b, onGrid(at60, 0, counts...))
	for b.Loop() {
		if g := tr.Figures(0, tr.End(), at60); g.Count != len(counts) {
			b.Fatal(g.Count)
		}
	}
}
