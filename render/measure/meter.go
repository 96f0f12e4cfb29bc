package measure

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"time"

	"fairframe/render/pacing"
)

const (
	// lag is the distance in captured frames at which motion has gone further
	// than from frame to frame, and noise has not.
	lag = 8
)

// A Summary is what a measurement found in all.
type Summary struct {
	Captured int64         // captured frames
	Span     time.Duration // that they were on screen
	New      int64         // captured frames in which a frame of the game began, the first included
	Repeated int64         // captured frames in which none did
	Torn     int64         // frames of the game that began in mid-picture
	Doubtful int64         // frames of the game marked doubtful
	Frames   int64         // frames of the game, still stretches not counted
	Stills   int64         // still stretches
	Still    time.Duration // their length in all
	// Gaps are places where the recorder dropped pictures, so that the log says
	// nothing; Gap is their length in all, Dropped the pictures.
	Gaps, Dropped int64
	Gap           time.Duration
	// LeftOut says that the recorder leaves repeated pictures out: the step from stamp
	// to stamp is then how long a picture was on screen.
	LeftOut bool
	// Uneven says that the capture does not keep to the rate that its container names,
	// and was measured as if it did.
	Uneven  bool
	Ceiling time.Duration // stretches in which every captured frame is new, in all

	// Noise is the mean absolute difference, in grey levels a pixel, between
	// two captured pictures of the same frame; Motion that to a new frame.
	// Either is 0 when there was none.
	Noise, Motion float64
	// MostRepeated is the greatest such difference of a captured frame that was
	// taken as repeated without doubt, and LeastNew the least of one taken as
	// new. Where the first is below the second, any threshold between them would
	// have done; where it is not, none would.
	MostRepeated, LeastNew float64
	// Threshold is the middle of those two, for the reader of a log: the decision
	// itself goes by bands, rows and time.
	Threshold float64
	// Exact counts the captured frames of stretches that repeat frames to the
	// bit, as lossless captures do: there the least difference is a new frame.
	Exact int64
	// Warnings say what the reader should know, in plain words.
	Warnings []error
}

// A Meter works out the pacing of a capture from its pictures, given in order.
// Its memory does not depend on the capture's length. It serves one goroutine.
type Meter struct {
	source   Source
	settings Settings

	compare *comparer
	window  []*observation // frames first … first+len(window)-1
	free    []*observation
	means   [lag][]uint16 // of the last frames, by number modulo lag
	first   int64
	count   int64 // frames added
	decided int64 // frames decided
	late    bool  // a start was found in pictures that are the same
	still   int   // pictures up to the last that are the same as the one before

	out   emitter
	spare []byte
	sums  tally
	sum   Summary
}

// A Source says what pictures a meter will see.
type Source struct {
	Size  image.Point
	Rate  pacing.Rate
	First int64 // number of the first picture in its capture
	// Lead is how many pictures are shown for context only, before those that are measured;
	// Count is how many are measured, with context after them, or all when it is not above 0.
	Lead, Count int64
	// Stamps says when picture n of the capture begins, where they do not follow each
	// other at Rate; nil: they do. OnGrid says that Rate is that of their grid.
	Stamps func(n int64) time.Duration
	OnGrid bool
	Codec  string // in ffmpeg's words; "": not known, and taken to predict pictures from others
	// Forward says that no picture is predicted from one that is shown after it:
	// nothing can then be made up between two pictures.
	Forward bool
}

// New returns a meter for the pictures of src, as ordered by s. It calls emit
// for each frame of the game in order, some seconds after it ended: the
// pictures around it must be seen first.
func New(src Source, s Settings, emit func(pacing.Frame) error) (*Meter, error) {
	if !src.Rate.Valid() {
		return nil, fmt.Errorf("measure: no frame rate (%v)", src.Rate)
	}
	if src.First < 0 {
		return nil, fmt.Errorf("measure: no frame has the number %d", src.First)
	}
	if emit == nil {
		return nil, errors.New("measure: no receiver of frames")
	}
	s, err := s.resolve(src.Size)
	if err != nil {
		return nil, err
	}
	m := &Meter{source: src, settings: s, compare: newComparer(src.Size, s)}
	if !m.compare.sees() {
		return nil, errors.New("measure: nothing is left to measure (the ignored rectangles cover the region)")
	}
	m.out = emitter{rate: src.Rate, stamps: src.Stamps, grid: src.OnGrid, height: src.Size.Y, offset: src.First, emit: emit, sum: &m.sum}
	return m, nil
}

// Add takes the next captured frame's luma plane, one byte a pixel, rows
// packed. It does not keep luma.
func (m *Meter) Add(luma []byte) error {
	if len(luma) != len(m.compare.prev) {
		return m.wrongSize(len(luma))
	}
	m.spare = append(m.spare[:0], luma...)
	return m.add(&m.spare)
}

func (m *Meter) wrongSize(n int) error {
	return fmt.Errorf("measure: captured frame %d has %d bytes of luma where %dx%d need %d; did the picture's size change?",
		m.source.First+m.count, n, m.source.Size.X, m.source.Size.Y, m.source.Size.X*m.source.Size.Y)
}

// add takes the next captured frame's luma plane and gives the one before in
// exchange.
func (m *Meter) add(luma *[]byte) error {
	o := m.observation()
	m.compare.compare(luma, o.difference)
	m.relate(o)
	return m.take(o)
}

// take adds the observation of the next captured frame to the window.
func (m *Meter) take(o *observation) error {
	if m.count == 0 {
		// The first frame has none before it; it is new by definition.
		m.free = append(m.free, o)
		m.count++
		m.first, m.decided = 1, 1
		if !m.counts(0) {
			return nil
		}
		return m.out.frame(0, []int{0}, math.Inf(1))
	}
	m.count++
	m.window = append(m.window, o)
	// Frame n is the next to be looked at, and there is context behind it.
	// To begin with there is none before it, and it takes more behind it.
	if n := m.count - margin; n > m.decided && (m.first > 1 || n >= longest/2) && (n-m.decided >= longest || m.anchor(int(n-m.first))) {
		return m.decide(n)
	}
	return nil
}

// observation returns an observation to fill, used before or new.
func (m *Meter) observation() *observation {
	if n := len(m.free); n > 0 {
		o := m.free[n-1]
		m.free = m.free[:n-1]
		o.succession = nil
		return o
	}
	return &observation{difference: m.compare.newDifference()}
}

// relate measures how far the cells' means went since the frame before and
// since lag frames before.
func (m *Meter) relate(o *observation) {
	n := m.count
	o.near, o.far, o.blended = 0, 0, false
	o.setKey()
	if m.still++; slices.ContainsFunc(o.tile, func(v float32) bool { return v > 0 }) {
		m.still = 0
	}
	o.still = m.still
	if n > 0 {
		near := m.means[(n-1)%lag]
		far := near
		if n >= lag {
			far = m.means[n%lag]
		}
		o.moved = moved(o.moved, o.mean, near, m.compare)
		// Every third cell is plenty for a mean, and less to read.
		var a, b, cells int
		for i := 0; i < len(o.mean); i += 3 {
			v := int(o.mean[i])
			x, y := v-int(near[i]), v-int(far[i])
			a += max(x, -x)
			b += max(y, -y)
			cells++
		}
		o.near = float64(a) / float64(cells) / (cellSize * cellSize)
		o.far = float64(b) / float64(cells) / (cellSize * cellSize)
	}
	if k := len(m.window); k >= 2 {
		m.window[k-1].blended = blend(m.window[k-2].difference, m.window[k-1].difference, o.difference)
	}
	m.means[n%lag] = append(m.means[n%lag][:0], o.mean...)
}

// moved fills in how far the means of each band's cells went, in levels.
func moved(out []float64, mean, before []uint16, c *comparer) []float64 {
	out = append(out[:0], make([]float64, c.bands)...)
	for b := range out {
		sum := 0
		for i := b * c.columns; i < (b+1)*c.columns; i++ {
			v := int(mean[i]) - int(before[i])
			sum += max(v, -v)
		}
		out[b] = float64(sum) / float64(c.columns) / (cellSize * cellSize)
	}
	return out
}

// decide judges the window's frames and settles those before frame upTo.
func (m *Meter) decide(upTo int64) error {
	if len(m.window) == 0 {
		return nil
	}
	w := newWindow(m.window, m.compare)
	w.opens, w.intra, w.forward, w.untorn = m.first == 1, isIntra(m.source.Codec), m.source.Forward, m.settings.Whole
	v := w.decide(m.compare)
	rows := make([]int, 0, 4)
	for at := 0; m.decided < upTo; m.decided++ {
		i := int(m.decided - m.first)
		rows = rows[:0]
		for ; at < len(v.starts) && v.starts[at] < (i+1)*v.steps; at++ {
			if s := v.starts[at]; s >= i*v.steps {
				row, sure := v.startRow(s, w, m.compare)
				rows = append(rows, row)
				v.sure[i] = min(v.sure[i], sure-placed)
			}
		}
		if w.obs[i].still > 0 {
			// What began here, if anything, is shown by the next picture.
			m.late = m.late || len(rows) > 0
			rows = rows[:0]
		} else if m.late {
			if m.late = false; len(rows) == 0 || rows[0] > 0 {
				rows = slices.Insert(rows, 0, 0)
			}
		}
		if !m.counts(m.decided) {
			continue
		}
		if m.decided == m.source.Lead && (len(rows) == 0 || rows[0] > 0) {
			rows = slices.Insert(rows, 0, 0) // what is on screen where the measured stretch begins
		}
		if err := m.out.frame(m.decided, rows, v.sure[i]); err != nil {
			return err
		}
		w.tally(i, len(rows) > 0, v.sure[i] >= weak, &m.sums)
	}
	m.drop(upTo - margin)
	return nil
}

// placed is the evidence, in nats, that an edge without a tear has by chance.
const placed = 15

// drop forgets the frames before n.
func (m *Meter) drop(n int64) {
	k := int(max(0, min(n-m.first, int64(len(m.window)))))
	m.free = append(m.free, m.window[:k]...)
	m.window = append(m.window[:0], m.window[k:]...)
	m.first += int64(k)
}

// counts reports whether frame n is one of those that are measured, and no context.
func (m *Meter) counts(n int64) bool {
	return n >= m.source.Lead && (m.source.Count <= 0 || n < m.source.Lead+m.source.Count)
}

// counted returns how many of the frames added are measured.
func (m *Meter) counted() int64 {
	n := max(m.count-m.source.Lead, 0)
	if m.source.Count > 0 {
		n = min(n, m.source.Count)
	}
	return n
}

// Finish decides what is left, ends the last frame and sums up. The meter is
// of no use after it.
func (m *Meter) Finish() (Summary, error) {
	counted := m.counted()
	if counted < 2 {
		return Summary{}, fmt.Errorf("measure: a capture of %d frames shows no pacing; at least 2 are needed", counted)
	}
	if err := m.decide(m.count); err != nil {
		return Summary{}, err
	}
	from := m.source.Lead
	if err := m.out.end(m.out.time(from+counted, 0)); err != nil {
		return Summary{}, err
	}
	if err := m.out.flush(); err != nil {
		return Summary{}, err
	}
	m.sum.Captured = counted
	m.sum.Span = m.out.time(from+counted, 0) - m.out.time(from, 0)
	m.sums.into(&m.sum)
	m.sum.warn()
	return m.sum, nil
}
