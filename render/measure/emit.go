package measure

import (
	"math"
	"math/big"
	"time"

	"fairframe/render/pacing"
)

// An emitter turns the starts of frames into frames with times.
type emitter struct {
	rate   pacing.Rate
	stamps func(n int64) time.Duration // when captured frame n begins; nil: n/rate
	grid   bool                        // of the capture's rate: a longer step is no ceiling
	height int                         // rows of a captured frame
	offset int64                       // number of frame 0 in its capture
	emit   func(pacing.Frame) error

	open    bool
	pending pacing.Frame // begun, not yet ended
	begun   int64        // the captured frame in which it did
	sum     *Summary

	// full are the latest frames that took one captured frame each, from edge to
	// edge, as long as they are too few to be a ceiling; filled is their time.
	full   []pacing.Frame
	filled time.Duration
}

// weak is the evidence, in nats, below which a decision is doubtful: the other
// one is then more than about 1 in 20 likely.
const weak = 3

// frame takes what was decided of captured frame n: the rows at which frames
// of the game began in it, none if it repeats, and the evidence for that.
func (e *emitter) frame(n int64, rows []int, sure float64) error {
	doubtful := sure < weak
	if doubtful {
		e.pending.Doubtful = true
	}
	if len(rows) == 0 {
		e.sum.Repeated++
		return nil
	}
	e.sum.New++
	for _, row := range rows {
		at := e.time(n, row)
		if e.open && at <= e.pending.Begin {
			continue // two starts were found at one row
		}
		e.pending.Ceiling = row == 0 && e.pending.Tear == 0 && n == e.begun+1 && e.fullStep(n)
		if err := e.end(at); err != nil {
			return err
		}
		e.begun = n
		e.pending = pacing.Frame{Begin: at, Tear: row, Doubtful: doubtful}
		e.open = true
	}
	return nil
}

// end ends the pending frame at a time and passes it on.
func (e *emitter) end(at time.Duration) error {
	if !e.open {
		return nil
	}
	f := e.pending
	f.Time = at - f.Begin
	e.open = false
	if f.Time >= StillAfter {
		f.Kind = pacing.Still
		e.sum.Stills++
		e.sum.Still += f.Time
	} else {
		e.sum.Frames++
		if f.Tear > 0 {
			e.sum.Torn++
		}
		if f.Doubtful {
			e.sum.Doubtful++
		}
	}
	return e.pass(f)
}

// ceilingAfter is the time in which every captured frame is new that makes the
// capture's own rate a ceiling: in less of it a game may well be as fast as that.
const ceilingAfter = pacing.MinSpan

// pass passes on a frame, with those that waited to see whether they make a ceiling.
func (e *emitter) pass(f pacing.Frame) error {
	if f.Ceiling && e.filled < ceilingAfter {
		e.full = append(e.full, f)
		if e.filled += f.Time; e.filled < ceilingAfter {
			return nil
		}
		return e.flush()
	}
	if !f.Ceiling {
		if err := e.flush(); err != nil {
			return err
		}
		e.filled = 0
	} else {
		e.sum.Ceiling += f.Time
	}
	return e.emit(f)
}

// flush passes on the frames that wait.
func (e *emitter) flush() error {
	if e.filled >= ceilingAfter && len(e.full) > 0 {
		e.sum.Ceiling += e.filled
	}
	for _, f := range e.full {
		f.Ceiling = e.filled >= ceilingAfter
		if err := e.emit(f); err != nil {
			return err
		}
	}
	e.full = e.full[:0]
	return nil
}

// fullStep reports whether captured frame n follows the one before as fast as the
// capture can.
func (e *emitter) fullStep(n int64) bool {
	return e.stamps == nil || !e.grid || e.time(n, 0)-e.time(n-1, 0) < e.rate.TimeOf(1)*3/2
}

// time returns when row row of captured frame n is drawn: (n + row/height)/rate, to
// the nanosecond. Where stamps say when it begins, it is drawn within a frame at the
// rate, or before the next one.
func (e *emitter) time(n int64, row int) time.Duration {
	n += e.offset
	if e.stamps != nil {
		begin := e.stamps(n)
		lasts := min(e.rate.TimeOf(1), e.stamps(n+1)-begin)
		return begin + lasts*time.Duration(row)/time.Duration(e.height)
	}
	if row == 0 {
		return e.rate.TimeOf(n)
	}
	v := new(big.Rat).SetFrac64(int64(row), int64(e.height))
	v.Add(v, new(big.Rat).SetInt64(n))
	v.Mul(v, new(big.Rat).SetFrac64(e.rate.Den*int64(time.Second), e.rate.Num))
	f, _ := v.Float64()
	return time.Duration(math.Round(f))
}
