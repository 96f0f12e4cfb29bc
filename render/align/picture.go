package align

import (
	"image"
	"math"
	"slices"
	"sort"

	"fairframe/render/pacing"
)

// A picture's signature is its luma as 32x18 area averages: small enough that
// resolution, sharpness and coding noise do not show, large enough for motion.
const (
	sigWide, sigHigh = 32, 18
	sigCells         = sigWide * sigHigh
	coarseRate       = 15 // rows of features a second
	coarseCells      = sigCells / 4
	coarseSpan       = 3 // rows between which the change is a feature: 0.2 s
)

func signatureSize() image.Point { return image.Pt(sigWide, sigHigh) }

// picture is a track's pictures: the signature of each captured frame, and for
// each fifteenth of a second how a coarser one has changed.
type picture struct {
	signatures *spool
	features   *series
	rate       pacing.Rate

	sum    [coarseCells]float64 // of the frames in the current row
	count  int
	frame  int64
	recent [][]float32 // the last rows, normalised
	row    []float32
}

func newPicture(rate pacing.Rate) (*picture, error) {
	signatures, err := newSpool(sigCells)
	if err != nil {
		return nil, err
	}
	features, err := newSeries(coarseRate, coarseCells)
	if err != nil {
		signatures.close()
		return nil, err
	}
	return &picture{signatures: signatures, features: features, rate: rate, row: make([]float32, coarseCells)}, nil
}

func (p *picture) add(luma []byte) error {
	if err := p.signatures.add(luma); err != nil {
		return err
	}
	for y := range sigHigh {
		for x := range sigWide {
			p.sum[y/2*(sigWide/2)+x/2] += float64(luma[y*sigWide+x])
		}
	}
	p.count++
	p.frame++
	// Rows are filled up to the time at which this frame ends.
	for float64(p.frame)/p.rate.Hz() >= float64(p.features.rows+1)/coarseRate-1e-9 {
		if err := p.coarse(); err != nil {
			return err
		}
	}
	return nil
}

func (p *picture) coarse() error {
	now := make([]float32, coarseCells)
	if p.count == 0 { // slower than the rows
		copy(now, p.recent[len(p.recent)-1])
	} else {
		v := make([]float64, coarseCells)
		for i, s := range p.sum {
			v[i] = s / float64(4*p.count)
		}
		normalise(v)
		for i := range now {
			now[i] = float32(v[i])
		}
		p.sum, p.count = [coarseCells]float64{}, 0
	}
	p.recent = append(p.recent, now)
	clear(p.row)
	if len(p.recent) > coarseSpan {
		for i := range p.row {
			p.row[i] = now[i] - p.recent[0][i]
		}
		p.recent = p.recent[1:]
	}
	return p.features.push(p.row)
}

// leastContrast is a standard deviation of grey levels below which a picture
// is taken as empty rather than amplified.
const leastContrast = 3

// normalise makes brightness and gain of no effect: zero mean, unit deviation.
func normalise(v []float64) {
	var sum, sq float64
	for _, x := range v {
		sum += x
		sq += x * x
	}
	n := float64(len(v))
	mean := sum / n
	dev := max(leastContrast, math.Sqrt(max(0, sq/n-mean*mean)))
	for i := range v {
		v[i] = (v[i] - mean) / dev
	}
}

func (p *picture) seal() error {
	if err := p.signatures.seal(); err != nil {
		return err
	}
	return p.features.seal()
}

func (p *picture) close() {
	p.signatures.close()
	p.features.close()
}

// film is a stretch of pictures as samples of the game at the instants at which
// new frames appeared. Between them it is interpolated: a held picture is an old
// one, and how old depends on the machine's cadence.
type film struct {
	times []float64 // seconds after the track's beginning
	cells [][]float64
	small [][]float64 // halved
}

// film reads the frames on screen in [from, to), in seconds after the track's
// beginning.
func (p *picture) film(from, to float64) (film, error) {
	hz := p.rate.Hz()
	first := int64(math.Floor(from * hz))
	n := int(math.Ceil(to*hz)-float64(first)) + 1
	raw, valid, err := p.signatures.read(first, n)
	if err != nil || valid[0] >= valid[1] {
		return film{}, err
	}
	var steps []float64
	for i := valid[0] + 1; i < valid[1]; i++ {
		steps = append(steps, difference(raw[(i-1)*sigCells:i*sigCells], raw[i*sigCells:(i+1)*sigCells]))
	}
	var f film
	for i := valid[0]; i < valid[1]; i++ {
		if k := i - valid[0] - 1; k >= 0 && !isNew(steps, k, int(hz)) {
			continue
		}
		v := make([]float64, sigCells)
		for j, b := range raw[i*sigCells : (i+1)*sigCells] {
			v[j] = float64(b)
		}
		normalise(v)
		f.times = append(f.times, float64(first+int64(i))/hz)
		f.cells = append(f.cells, v)
		f.small = append(f.small, halve(v))
	}
	return f, nil
}

func difference(a, b []byte) float64 {
	var sum int
	for i := range a {
		d := int(a[i]) - int(b[i])
		sum += max(d, -d)
	}
	return float64(sum) / float64(len(a))
}

// isNew reports whether step k brought a new frame of the game: whether it lies
// in the upper half of the range of the steps of half a second around it, which
// noise cannot shift. To miss a new frame costs a point of the interpolation; to
// take a repeated one for new would put an old picture at a late time.
func isNew(steps []float64, k, around int) bool {
	near := slices.Clone(steps[max(0, k-around/4):min(len(steps), k+around/4+1)])
	slices.Sort(near)
	n := len(near) - 1
	return steps[k] >= (near[n/10]+near[n-n/10])/2
}

// detail chooses between the whole signatures and ones of half their width and
// height.
type detail int

const (
	whole detail = iota
	halved
)

func (d detail) cells() int { return [...]int{sigCells, coarseCells}[d] }

// halve averages cells by fours.
func halve(v []float64) []float64 {
	out := make([]float64, coarseCells)
	for y := range sigHigh {
		for x := range sigWide {
			out[y/2*(sigWide/2)+x/2] += v[y*sigWide+x] / 4
		}
	}
	return out
}

// at interpolates the film; nil outside it.
func (f *film) at(t float64, d detail) []float64 {
	i := sort.SearchFloat64s(f.times, t)
	if i == 0 && len(f.times) > 0 && t > f.times[0]-1e-9 {
		i = 1
	}
	if i == 0 || i >= len(f.times) {
		return nil
	}
	w := (t - f.times[i-1]) / (f.times[i] - f.times[i-1])
	a, b := f.cells[i-1], f.cells[i]
	if d == halved {
		a, b = f.small[i-1], f.small[i]
	}
	out := make([]float64, len(a))
	for k := range out {
		out[k] = a[k] + w*(b[k]-a[k])
	}
	return out
}

// seen is what the pictures say about one proposed offset.
type seen struct {
	shift float64 // seconds to add to the proposal
	peak  float64 // Pearson's correlation of the changes, at the best shift
	moves float64 // how much changes in the block of a, in deviations of a picture
	other float64 // and in b
}

const (
	fineStep = 1.0 / 240 // seconds between the shifts tried
	stride   = 4         // shifts between those tried at first
	fineA    = 8         // steps between the instants of a that count
	span     = 24        // steps over which a change is taken: 0.1 s
)

// eye is on a block of one track and compares it with stretches of another.
type eye struct {
	from    float64 // seconds after the track's beginning
	instant []int   // steps after from at which a change begins
	change  [2][][]float64
	energy  [2][]float64
	moves   float64
}

// newEye looks at the film of a block, which begins a little before from.
func newEye(f film, from, to float64) *eye {
	e := &eye{from: from}
	var sum float64
	for i := 0; i+span < int((to-from)/fineStep); i += fineA {
		then, now := from+float64(i)*fineStep, from+float64(i+span)*fineStep
		for d := whole; d <= halved; d++ {
			x, y := f.at(then, d), f.at(now, d)
			if x == nil || y == nil {
				break
			}
			if d == whole {
				e.instant = append(e.instant, i)
			}
			var sq float64
			for c := range y {
				y[c] -= x[c]
				sq += y[c] * y[c]
			}
			e.change[d], e.energy[d] = append(e.change[d], y), append(e.energy[d], sq)
			if d == whole {
				sum += sq
			}
		}
	}
	if n := len(e.instant); n > 0 {
		e.moves = math.Sqrt(sum / float64(n) / sigCells)
	}
	return e
}

// look compares what changes in the block with what changes in b at a proposed
// offset and up to reach seconds to either side.
func (e *eye) look(b film, offset, reach float64) seen {
	s := seen{moves: e.moves}
	far := int(math.Ceil(reach / fineStep))
	var rows [2]map[int][]float64 // of b, by step after from+offset
	rows[whole], rows[halved] = map[int][]float64{}, map[int][]float64{}
	row := func(i int, d detail) []float64 {
		v, ok := rows[d][i]
		if !ok {
			v = b.at(e.from+offset+float64(i)*fineStep, d)
			rows[d][i] = v
		}
		return v
	}
	// correlate returns -1 where too little of the block lies inside b.
	correlate := func(shift int, d detail) float64 {
		var dot, ea, eb float64
		used := 0
		for k, i := range e.instant {
			x, y := row(i+shift, d), row(i+shift+span, d)
			if x == nil || y == nil {
				continue
			}
			var xy, sq float64
			for c, v := range e.change[d][k] {
				w := y[c] - x[c]
				xy += v * w
				sq += w * w
			}
			dot, ea, eb = dot+xy, ea+e.energy[d][k], eb+sq
			used++
		}
		if used < int(leastOverlap*float64(len(e.instant))) || used == 0 {
			return -1
		}
		s.other = max(s.other, math.Sqrt(eb/float64(used)/float64(d.cells())))
		if ea*eb <= 0 {
			return -1
		}
		return dot / math.Sqrt(ea*eb)
	}
	best, top := 0, -1.0
	for shift := -far; shift <= far; shift += stride {
		if r := correlate(shift, halved); r > top {
			best, top = shift, r
		}
	}
	if top < leastPeak/2 {
		return s
	}
	fine := make([]float64, 4*stride+1)
	high := 0
	for k := range fine {
		if fine[k] = correlate(best-2*stride+k, whole); fine[k] > fine[high] {
			high = k
		}
	}
	if high == 0 || high == len(fine)-1 || fine[high-1] <= -1 || fine[high+1] <= -1 {
		return s // the slope of a peak elsewhere
	}
	d, height := vertex(fine[high-1], fine[high], fine[high+1])
	s.shift, s.peak = (float64(best-2*stride+high)+d)*fineStep, height
	return s
}

// leastPeak is the correlation below which pictures speak for nothing.
const leastPeak = 0.3

// evidence turns a correlation into a number from 0 to 1.
func (s seen) evidence() float64 {
	if s.moves < leastMotion {
		return 0
	}
	return min(1, max(0, (s.peak-leastPeak)/0.35))
}

// leastMotion is a change over 0.1 s, in deviations of a picture, below which
// nothing is to be seen but noise.
const leastMotion = 0.01
