package align

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math"
	"os"

	"fairframe/render/scratch"
)

// spool keeps rows of bytes in a temporary file.
type spool struct {
	file *os.File
	out  *bufio.Writer
	row  int   // bytes a row
	rows int64 // so far
}

func newSpool(row int) (*spool, error) {
	f, err := scratch.Create("", "fairframe-align-*.part")
	if err != nil {
		return nil, fmt.Errorf("align: %w", err)
	}
	return &spool{file: f, out: bufio.NewWriterSize(f, 1<<16), row: row}, nil
}

func (s *spool) add(row []byte) error {
	if _, err := s.out.Write(row); err != nil {
		return fmt.Errorf("align: %w", err)
	}
	s.rows++
	return nil
}

// seal ends the writing.
func (s *spool) seal() error {
	if err := s.out.Flush(); err != nil {
		return fmt.Errorf("align: %w", err)
	}
	return nil
}

func (s *spool) close() {
	s.file.Close()
	os.Remove(s.file.Name())
}

// read returns rows [from, from+n); what lies outside the spool is zero. valid
// is the half-open range of the rows returned that lie inside.
func (s *spool) read(from int64, n int) (data []byte, valid [2]int, err error) {
	data = make([]byte, n*s.row)
	lo, hi := max(0, from), min(s.rows, from+int64(n))
	if lo >= hi {
		return data, [2]int{}, nil
	}
	valid = [2]int{int(lo - from), int(hi - from)}
	part := data[valid[0]*s.row : valid[1]*s.row]
	if _, err := s.file.ReadAt(part, lo*int64(s.row)); err != nil {
		return nil, valid, fmt.Errorf("align: %w", err)
	}
	return data, valid, nil
}

// series is a sequence of feature vectors at a fixed rate, kept in a spool as
// float32. Row k belongs to the time k/rate after the track's beginning.
type series struct {
	*spool
	rate     float64
	channels int
	buf      []byte
}

func newSeries(rate float64, channels int) (*series, error) {
	s, err := newSpool(4 * channels)
	return &series{spool: s, rate: rate, channels: channels, buf: make([]byte, 4*channels)}, err
}

func (s *series) push(v []float32) error {
	for i, x := range v {
		binary.LittleEndian.PutUint32(s.buf[4*i:], math.Float32bits(x))
	}
	return s.add(s.buf)
}

// channelsOf returns rows [from, from+n) as one sequence a channel.
func (s *series) channelsOf(from int64, n int) (out [][]float64, valid [2]int, err error) {
	raw, valid, err := s.read(from, n)
	if err != nil {
		return nil, valid, err
	}
	out = make([][]float64, s.channels)
	flat := make([]float64, n*s.channels)
	for c := range out {
		out[c] = flat[c*n : (c+1)*n]
		for i := range n {
			out[c][i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[4*(i*s.channels+c):])))
		}
	}
	return out, valid, nil
}
