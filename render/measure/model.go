package measure

import "math"

// The two views of a band: how much of it changed, and how much the cell that
// changed most did. The first tells a moving picture from noise by weight of
// numbers; the second finds a small thing on a still background.
const (
	meanView = iota
	peakView
	cellView
	views
)

// A bandModel tells how one band's level spreads when the band shows the same frame as before and
// when it shows a new one.
type bandModel struct {
	same, fresh             float64 // means
	sameSpread, freshSpread float64 // standard deviations
	// miss is the share of new frames that look unchanged here, and alarm of
	// unchanged ones that look new: what encoders skip, pop and interpolate.
	miss, alarm float64
}

// llr returns the log likelihood ratio, in nats, of new over unchanged.
func (m *bandModel) llr(x float64) float64 {
	if m.fresh <= m.same {
		return 0
	}
	// Beyond either mean nothing gets any likelier: else the wider of the two
	// normal distributions would win both tails.
	x = min(max(x, m.same), m.fresh)
	a := (x - m.same) / m.sameSpread
	b := (x - m.fresh) / m.freshSpread
	same := math.Exp(-a*a/2) / m.sameSpread
	fresh := math.Exp(-b*b/2) / m.freshSpread
	const tiny = 1e-12
	return math.Log(((1-m.miss)*fresh + m.miss*same + tiny) / ((1-m.alarm)*same + m.alarm*fresh + tiny))
}

// tableSteps is into how many steps a model's evidence is tabled between its
// means. The steps are a small part of any spread; exp and log for every band
// of every frame would cost as much as comparing the pictures.
const tableSteps = 48

// table returns llr at the ends of tableSteps equal steps from same to fresh.
func (m *bandModel) table() (t [tableSteps + 1]float64) {
	for i := range t {
		t[i] = m.llr(m.same + (m.fresh-m.same)*float64(i)/tableSteps)
	}
	return t
}

// distance is the discriminability index d' of the model.
func (m *bandModel) distance() float64 {
	return (m.fresh - m.same) / math.Sqrt((m.sameSpread*m.sameSpread+m.freshSpread*m.freshSpread)/2)
}

// A prior is what is known of a band before its window is looked at.
type prior struct {
	same, fresh float64
	spread      float64
}

// fit estimates a model from values x and the labels of the same frames.
// The prior counts as one more value of each kind.
func fit(x []float64, fresh []bool, p prior, floor float64) bandModel {
	var n, s, q [2]float64
	for i, v := range x {
		k := 0
		if fresh[i] {
			k = 1
		}
		n[k]++
		s[k] += v
		q[k] += v * v
	}
	m := bandModel{
		same:  (s[0] + p.same) / (n[0] + 1),
		fresh: (s[1] + p.fresh) / (n[1] + 1),
	}
	spread := func(k int, mean float64) float64 {
		ss := 0.0
		if n[k] > 0 {
			ss = max(0, q[k]-s[k]*s[k]/n[k])
		}
		return math.Sqrt((ss+p.spread*p.spread)/(n[k]+1) + floor*floor)
	}
	m.sameSpread, m.freshSpread = spread(0, m.same), spread(1, m.fresh)
	if m.fresh > m.same {
		// Where both are equally far off, in spreads, is the boundary.
		at := (m.same*m.freshSpread + m.fresh*m.sameSpread) / (m.sameSpread + m.freshSpread)
		var missed, alarms float64
		for i, v := range x {
			if fresh[i] && v < at {
				missed++
			}
			if !fresh[i] && v > at {
				alarms++
			}
		}
		m.miss = (missed + 0.5) / (n[1] + 1)
		m.alarm = (alarms + 0.5) / (n[0] + 1)
	}
	return m
}
