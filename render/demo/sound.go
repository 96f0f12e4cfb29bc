package demo

import (
	"bufio"
	"context"
	"encoding/binary"
	"io"
	"math"
	"time"
)

const soundRate = 48000 // Hz

// sound is what is heard over a stretch of the game, the same for every
// machine at the same game time: wind, bells and a bird.
type sound struct{ left, right []float32 }

// newSound makes the sound of the game from its beginning.
func newSound(ctx context.Context, seed uint64, leg, length time.Duration) (sound, error) {
	n := int(length.Seconds()*soundRate) + 1
	s := sound{make([]float32, n), make([]float32, n)}
	// Wind: noise through two low-passes, whose corner follows gusts and the
	// walls of the pass.
	var l1, l2, r1, r2 float64
	for i := range n {
		if i%soundRate == 0 && ctx.Err() != nil {
			return s, ctx.Err()
		}
		g := float64(i) / soundRate
		c := countryAt(g/leg.Seconds(), 0.04)
		gust := 0.5 + 0.28*math.Sin(2*math.Pi*g/2.7+0.6) + 0.17*math.Sin(2*math.Pi*g/1.13) +
			0.05*math.Sin(2*math.Pi*g/0.31)
		corner := 260 + 520*gust + 700*c.Rock + 200*c.Forest
		k := 1 - math.Exp(-2*math.Pi*corner/soundRate)
		common := unit(seed+60, i, 0) - 0.5
		l1 += k * (common + 0.8*(unit(seed+61, i, 0)-0.5) - l1)
		r1 += k * (common + 0.8*(unit(seed+62, i, 0)-0.5) - r1)
		l2 += k * (l1 - l2)
		r2 += k * (r1 - r2)
		loud := 0.35 + 0.65*gust
		s.left[i], s.right[i] = float32(loud*l2), float32(loud*r2)
	}
	for _, e := range landmarks(leg, length) {
		switch e.kind {
		case bell:
			s.ring(e.at, e.pitch, e.pan)
		case bird:
			s.call(e.at, e.pitch, e.pan)
		}
	}
	return s, nil
}

type soundKind int

const (
	bell soundKind = iota
	bird
)

// landmark is a sound that belongs to a place on the flight.
type landmark struct {
	at    time.Duration // game time
	kind  soundKind
	pitch float64 // Hz
	pan   float64 // -1 left, 1 right
}

// landmarks lists the sounds up to a game time: no two intervals between them
// are alike, so that captures can be lined up by them.
func landmarks(leg, until time.Duration) []landmark {
	var list []landmark
	for n := time.Duration(0); n*leg < until; n++ {
		for _, e := range []struct {
			part  float64
			kind  soundKind
			pitch float64
			pan   float64
		}{
			{0.13, bell, 523, -0.5}, {0.245, bell, 523, -0.4}, {0.262, bell, 440, -0.4},
			{0.41, bird, 2900, 0.6}, {0.57, bird, 2600, -0.2}, {0.70, bird, 3100, 0.3},
			{0.80, bell, 392, 0.5}, {0.93, bell, 349, 0.2},
		} {
			at := n*leg + time.Duration(e.part*float64(leg))
			list = append(list, landmark{at, e.kind, e.pitch, e.pan})
		}
	}
	return list
}

// add mixes in one voice from a game time on, panned at constant power.
func (s sound) add(at time.Duration, pan float64, length float64, voice func(t float64) float64) {
	first := int(math.Round(at.Seconds() * soundRate))
	sin, cos := math.Sincos((pan + 1) * math.Pi / 4)
	for i := range int(length * soundRate) {
		if first+i >= len(s.left) {
			return
		}
		y := voice(float64(i) / soundRate)
		s.left[first+i] += float32(cos * y)
		s.right[first+i] += float32(sin * y)
	}
}

// ring strikes a bell: the partials of a church bell from hum to nominal
// (from memory), the high ones dying first.
func (s sound) ring(at time.Duration, pitch, pan float64) {
	partials := []struct{ ratio, gain, decay float64 }{
		{0.5, 0.5, 2.2}, {1, 0.8, 1.5}, {1.2, 0.6, 1.2}, {1.5, 0.35, 0.9}, {2, 0.7, 0.7},
		{2.67, 0.3, 0.4}, {4.1, 0.2, 0.2},
	}
	s.add(at, pan, 3, func(t float64) float64 {
		var y float64
		for _, p := range partials {
			y += p.gain * math.Exp(-t/p.decay*2.2) * math.Sin(2*math.Pi*pitch*p.ratio*t)
		}
		return 0.11 * min(1, t*800) * y
	})
}

// call lets a bird cry: five short falling notes.
func (s sound) call(at time.Duration, pitch, pan float64) {
	const note, gap = 0.07, 0.115
	s.add(at, pan, 5*gap, func(t float64) float64 {
		k := math.Floor(t / gap)
		u := t - k*gap
		if u > note {
			return 0
		}
		swell := math.Sin(math.Pi * u / note)
		// The phase of a tone that falls by a fifth of its pitch over the note.
		return 0.16 * swell * swell * math.Sin(2*math.Pi*pitch*(u-0.1*u*u/note))
	})
}

// writeWAV writes length of the sound from a game time on, as 16-bit stereo.
func (s sound) writeWAV(w io.Writer, from, length time.Duration, gain float64) error {
	first := int(math.Round(from.Seconds() * soundRate))
	n := int(math.Round(length.Seconds() * soundRate))
	b := bufio.NewWriterSize(w, 1<<16)
	head := []byte("RIFF....WAVEfmt ................data....")
	le := binary.LittleEndian
	head = append(head[:40], 0, 0, 0, 0)
	le.PutUint32(head[4:], uint32(36+4*n))
	le.PutUint32(head[16:], 16)
	le.PutUint16(head[20:], 1) // PCM
	le.PutUint16(head[22:], 2)
	le.PutUint32(head[24:], soundRate)
	le.PutUint32(head[28:], soundRate*4)
	le.PutUint16(head[32:], 4)
	le.PutUint16(head[34:], 16)
	copy(head[36:], "data")
	le.PutUint32(head[40:], uint32(4*n))
	if _, err := b.Write(head); err != nil {
		return err
	}
	var buf [4]byte
	for i := first; i < first+n; i++ {
		var l, r float32
		if i < len(s.left) {
			l, r = s.left[i], s.right[i]
		}
		le.PutUint16(buf[0:], uint16(sample16(float64(l)*gain)))
		le.PutUint16(buf[2:], uint16(sample16(float64(r)*gain)))
		if _, err := b.Write(buf[:]); err != nil {
			return err
		}
	}
	return b.Flush()
}

func sample16(y float64) int16 { return int16(math.Round(32767 * min(1, max(-1, y)))) }
