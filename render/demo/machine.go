package demo

import (
	"image"
	"math"
	"time"

	"fairframe/render/pacing"
)

// machine is a made-up machine: what it renders at and how it shows frames.
type machine struct {
	key, name string
	detail    string
	raster    image.Point   // in a capture of 1920x1080
	lead      time.Duration // game time at its capture's first frame, whatever the demo's length
	gain      float64       // of its sound
	file      string        // of its capture
	log       string        // of its pacing
	encode    []string      // arguments of its sound and container
	show      func(seed uint64, d director) []shown
}

// shown is one frame of the game as it reaches the screen.
type shown struct {
	begin time.Duration // capture time
	tear  int           // capture row, 0: not torn
}

// director says how much each instant of a capture asks of a machine.
type director struct {
	leg    time.Duration // how long it takes to play a leg
	lead   time.Duration // game time at the capture's first frame
	frames int64         // of the capture, at 60 Hz
	rows   int           // of the capture
}

func (d director) country(at time.Duration) country {
	return countryAt(float64(at+d.lead)/float64(d.leg), 0.008)
}

func machines() []machine {
	return []machine{
		{
			key: "alder", name: "Alder", detail: "v-sync, two buffers",
			raster: image.Pt(1408, 792), lead: 0, gain: 0.9,
			file: "alder.mkv", log: "alder.csv",
			encode: []string{"-c:a", "aac", "-b:a", "128k", "-f", "matroska"},
			show:   showAlder,
		},
		{
			key: "birch", name: "Birch", detail: "v-sync, three buffers",
			raster: image.Pt(1920, 1080), lead: 100 * time.Millisecond, gain: 1,
			file: "birch.mp4", log: "birch.txt",
			encode: []string{"-c:a", "aac", "-b:a", "128k", "-movflags", "+faststart", "-f", "mp4"},
			show:   showBirch,
		},
		{
			key: "cedar", name: "Cedar", detail: "no v-sync",
			raster: image.Pt(1664, 936), lead: 200 * time.Millisecond, gain: 0.8,
			file: "cedar.mov", log: "cedar.csv",
			encode: []string{"-c:a", "pcm_s16le", "-f", "mov"},
			show:   showCedar,
		},
	}
}

// rasterFor is the machine's raster for captures of that size: even, and never
// more than the capture.
func (m *machine) rasterFor(size image.Point) image.Point {
	part := func(n, of, whole int) int { return max(2, min(whole, 2*((n*whole+of)/(2*of)))) }
	return image.Pt(part(m.raster.X, 1920, size.X), part(m.raster.Y, 1080, size.Y))
}

// captureRate is the rate of all captures and the refresh rate of the screens.
func captureRate() pacing.Rate { return pacing.Rate{Num: 60, Den: 1} }

// refreshAfter is the first refresh at or after t.
func refreshAfter(t time.Duration) int64 {
	n := captureRate().FrameAt(t)
	if captureRate().TimeOf(n) < t {
		n++
	}
	return n
}

func ms(x float64) time.Duration { return time.Duration(math.Round(x * float64(time.Millisecond))) }

// showAlder draws into one buffer while the other is on screen. A frame that
// misses a refresh waits for the next, and drawing waits with it: what takes a
// little more than a sixtieth of a second is shown for two.
func showAlder(seed uint64, d director) []shown {
	list := []shown{{}}
	for n := int64(0); ; {
		at := captureRate().TimeOf(n)
		c := d.country(at)
		cost := 11.9 + 10.2*c.Forest + 8.6*c.Rock + 0.9*c.Lake + 1.4*unit(seed, int(n), 1)
		n = refreshAfter(at + ms(cost))
		if n >= d.frames {
			return list
		}
		list = append(list, shown{begin: captureRate().TimeOf(n)})
	}
}

// showBirch has a third buffer, so that drawing need not wait for the screen:
// where frames take longer than a refresh it wavers between one refresh and
// two. Now and then the land ahead is not loaded in time.
func showBirch(seed uint64, d director) []shown {
	list := []shown{{}}
	var ready time.Duration // when the frame before was drawn
	last, before := int64(0), int64(-1)
	hitch := d.hitches(seed)
	for n := 1; ; n++ {
		// Two frames may be drawn ahead of the one on screen.
		start := ready
		if before >= 0 {
			start = max(start, captureRate().TimeOf(before))
		}
		c := d.country(start)
		slow := 2.2 * math.Sin(2*math.Pi*start.Seconds()/0.9)
		cost := 12.6 + 9.2*c.Forest + 1.6*c.Rock + 1.1*c.Lake + c.Forest*slow + 2.2*(unit(seed, n, 2)-0.4)
		for len(hitch) > 0 && start >= hitch[0].at {
			cost += hitch[0].extra
			hitch = hitch[1:]
		}
		ready = start + ms(cost)
		at := max(last+1, refreshAfter(ready))
		if at >= d.frames {
			return list
		}
		before, last = last, at
		list = append(list, shown{begin: captureRate().TimeOf(at)})
	}
}

type hitch struct {
	at    time.Duration // capture time
	extra float64       // ms
}

// hitches are where Birch waits for land to load: at the same places of every
// leg.
func (d director) hitches(seed uint64) []hitch {
	var list []hitch
	end := captureRate().TimeOf(d.frames)
	for leg := time.Duration(0); leg*d.leg < d.lead+end; leg++ {
		for k, part := range []float64{0.17, 0.40, 0.545, 0.90} {
			at := leg*d.leg + time.Duration(part*float64(d.leg)) - d.lead
			if at < 0 {
				continue
			}
			list = append(list, hitch{at, 72 + 14*unit(seed, int(leg), 100+k)})
		}
	}
	return list
}

// showCedar shows each frame as soon as it is drawn, wherever the screen's
// refresh happens to be: the rows below are new, those above are old.
func showCedar(seed uint64, d director) []shown {
	list := []shown{{}}
	var t time.Duration
	for n := 1; ; n++ {
		c := d.country(t)
		wave := math.Sin(2*math.Pi*t.Seconds()/1.3) + 0.6*math.Sin(2*math.Pi*t.Seconds()/0.47)
		cost := 13.7 + 4.6*c.Forest + 3.4*c.Rock + 8.2*c.Lake +
			(0.2+0.5*c.Forest+0.3*c.Rock+0.7*c.Lake)*wave + 0.9*(unit(seed, n, 3)-0.5)
		t += ms(cost)
		s := d.torn(t)
		// A swap within the last captured frame would leave a sliver of a frame.
		if captureRate().FrameAt(s.begin) >= d.frames-1 {
			return list
		}
		t = s.begin
		list = append(list, s)
	}
}

// torn is a frame that is swapped in at t. Captured pictures have whole rows,
// and even ones for their chroma, so the log takes the row's own time. No swap
// falls into the first and last rows: too little of a frame would show there.
func (d director) torn(t time.Duration) shown {
	n := captureRate().FrameAt(t)
	begin, next := captureRate().TimeOf(n), captureRate().TimeOf(n+1)
	row := 2 * int(math.Round(float64(d.rows)*float64(t-begin)/float64(next-begin)/2))
	edge := 2 * max(4, d.rows/72)
	row = min(max(row, edge), d.rows-edge)
	return shown{begin: begin + (next-begin)*time.Duration(row)/time.Duration(d.rows), tear: row}
}

// frames turns what was shown into a pacing log. The first and the last frame
// count by what the capture holds of them.
func frames(list []shown, d director) []pacing.Frame {
	out := make([]pacing.Frame, len(list))
	for i, s := range list {
		end := captureRate().TimeOf(d.frames)
		if i+1 < len(list) {
			end = list[i+1].begin
		}
		out[i] = pacing.Frame{Begin: s.begin, Time: end - s.begin, Tear: s.tear}
	}
	return out
}
