package align

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// game is a made-up game: what it sounds and looks like at a game time. The
// same seed is the same play.
type game struct {
	seed   uint64
	length float64 // seconds
	high   []float32
	blobs  []blob
}

type blob struct {
	from, to       float64 // game time
	x, y, vx, vy   float64 // at from, in picture widths and heights
	size, contrast float64
	wobble, rate   float64
}

const highRate = 48000

// newGame makes length seconds of play. Sound is made once at 48 kHz, so that
// captures can begin between the samples of a track.
func newGame(seed uint64, length float64) *game {
	r := rand.New(rand.NewPCG(seed, 7))
	g := &game{seed: seed, length: length}
	for n := int(6 * length); n > 0; n-- {
		at := r.Float64() * length
		g.blobs = append(g.blobs, blob{
			from: at, to: at + 1 + 3*r.Float64(), x: r.Float64(), y: r.Float64(), vx: 0.5 * r.NormFloat64(), vy: 0.3 * r.NormFloat64(),
			size: 0.04 + 0.12*r.Float64(), contrast: 60 * r.NormFloat64(), wobble: 0.05 * r.Float64(), rate: 1 + 4*r.Float64(),
		})
	}
	return g
}

// sounds makes the sound: events over a soft wind, each event a decaying burst of
// noise or a tone. voices changes the draw of events only.
func (g *game) sounds() []float32 {
	if g.high != nil {
		return g.high
	}
	r := rand.New(rand.NewPCG(g.seed, 9))
	g.high = make([]float32, int(g.length*highRate))
	var low float64
	for i := range g.high {
		low += 0.04 * (r.Float64() - 0.5 - low)
		g.high[i] = float32(0.15 * low)
	}
	for n := int(3 * g.length); n > 0; n-- {
		at, decay, loud := r.IntN(len(g.high)), 0.03+0.3*r.Float64(), 0.02+0.1*r.Float64()
		pitch, noisy := 150*math.Pow(2, 4*r.Float64()), r.IntN(2) == 0
		for k := range int(4 * decay * highRate) {
			if at+k >= len(g.high) {
				break
			}
			t := float64(k) / highRate
			y := math.Sin(2 * math.Pi * pitch * t)
			if noisy {
				y = 2*r.Float64() - 1
			}
			g.high[at+k] += float32(loud * math.Exp(-t/decay) * y)
		}
	}
	return g.high
}

// picture draws the signature-sized picture of a game time.
func (g *game) picture(t float64) []float64 {
	out := make([]float64, sigCells)
	for y := range sigHigh {
		for x := range sigWide {
			out[y*sigWide+x] = 90 + 30*math.Sin(float64(x)/9) + 2*float64(y)
		}
	}
	for _, b := range g.blobs {
		if t < b.from || t > b.to {
			continue
		}
		s := t - b.from
		fade := min(1, 4*s, 4*(b.to-t))
		cx := (b.x + b.vx*s + b.wobble*math.Sin(b.rate*s)) * sigWide
		cy := (b.y + b.vy*s) * sigHigh
		size := b.size * sigWide
		for y := range sigHigh {
			for x := range sigWide {
				dx, dy := (float64(x)+0.5-cx)/size, (float64(y)+0.5-cy)/size
				if d := dx*dx + dy*dy; d < 9 {
					out[y*sigWide+x] += fade * b.contrast * math.Exp(-d)
				}
			}
		}
	}
	return out
}

// take says how a machine plays and a recorder captures.
type take struct {
	lead    float64 // game time at the capture's first frame
	length  float64 // seconds
	rate    pacing.Rate
	cadence func(n int64) int64     // the captured frame in which the picture of frame n began
	late    float64                 // seconds by which pictures begin after cadence's frame, for unlocked machines
	gain    float64                 // of picture contrast; 0: 1
	bright  float64                 // grey levels
	grain   float64                 // of picture noise, grey levels
	volume  float64                 // of sound; 0: 1
	hiss    float64                 // root mean square of added noise
	voice   *game                   // spoken over it
	clock   float64                 // by which the recorder's clock is fast, parts per million
	deaf    bool                    // no sound
	blind   bool                    // pictures stand still
	delay   float64                 // seconds by which sound comes late
	cut     func(t float64) float64 // what part of the play is on at a capture time
	silent  bool
	heard   *game // whose sound is heard instead of the game's own
}

var sixty = pacing.Rate{Num: 60, Den: 1}

func every(k int64) func(int64) int64 { return func(n int64) int64 { return n / k * k } }

// shoot makes a track of a take without any file of video.
func shoot(t testing.TB, g *game, k take) *Track {
	t.Helper()
	if k.rate == (pacing.Rate{}) {
		k.rate = sixty
	}
	if k.gain == 0 {
		k.gain = 1
	}
	if k.volume == 0 {
		k.volume = 1
	}
	if k.cadence == nil {
		k.cadence = every(1)
	}
	if k.cut == nil {
		k.cut = func(t float64) float64 { return t }
	}
	clock := 1 + k.clock*1e-6
	game := func(t float64) float64 { return k.cut(t/clock) + k.lead }
	tr := &Track{Capture: media.Capture{Path: "made up", Rate: k.rate, Audio: !k.deaf}, length: k.length}
	r := rand.New(rand.NewPCG(g.seed, uint64(k.lead*1e6)+3))
	var err error
	if tr.picture, err = newPicture(k.rate); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(tr.Close)
	luma := make([]byte, sigCells)
	for n := range k.rate.FramesIn(secs(k.length)) {
		at := float64(k.cadence(n))/k.rate.Hz() + k.late
		if k.blind {
			at = 0
		}
		for i, v := range g.picture(game(at)) {
			luma[i] = byte(min(235, max(16, 110+k.gain*(v-110)+k.bright+k.grain*r.NormFloat64()+0.5)))
		}
		if err := tr.picture.add(luma); err != nil {
			t.Fatal(err)
		}
	}
	if err := tr.picture.seal(); err != nil {
		t.Fatal(err)
	}
	if k.deaf {
		return tr
	}
	if tr.sound, err = newSound(); err != nil {
		t.Fatal(err)
	}
	high := g.sounds()
	if k.heard != nil {
		high = k.heard.sounds()
	}
	x := make([]float32, int(k.length*soundRate))
	const ratio = highRate / soundRate
	for i := range x {
		at := (game(float64(i)/soundRate) - k.delay) * highRate
		// A mean over two samples of the track is low-pass enough, and centred
		// on the fraction of a sample at which the capture begins.
		base, frac := math.Floor(at), at-math.Floor(at)
		var sum float64
		for j := -ratio; j <= ratio; j++ {
			p := int(base) + j
			if p < 0 || p+1 >= len(high) {
				continue
			}
			sum += (1-frac)*float64(high[p]) + frac*float64(high[p+1])
		}
		y := k.volume * sum / (2*ratio + 1)
		if k.silent {
			y = 0
		}
		if k.voice != nil {
			if v := k.voice.sounds(); (i*ratio)%len(v) < len(v) {
				y += 2 * float64(v[(i*ratio)%len(v)])
			}
		}
		x[i] = float32(y + k.hiss*r.NormFloat64())
	}
	if err := tr.sound.add(x); err != nil {
		t.Fatal(err)
	}
	if err := tr.sound.seal(); err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestMain(m *testing.M) { os.Exit(m.Run()) }

func pacingRate(hz int64) pacing.Rate { return pacing.Rate{Num: hz, Den: 1} }
