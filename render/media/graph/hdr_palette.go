package graph

import (
	"encoding/binary"
	"image"
	"math"

	"fairframe/render/media"
)

// dividerLuma is the grey of dividers, #161616, in BT.709's limited range.
const dividerLuma = 35

// hdrPalette turns the codes in which Go draws (BT.709, limited range, 8 bits) into those
// of an HDR clip: the light of a display of gamma 2.4 (ITU-R BT.1886) whose white
// is referenceWhite (ITU-R BT.2408, graphics white), in the primaries of BT.2020.
// Few colours are drawn, so each is worked out once. Alpha stays straight; what is
// translucent is blended in the clip's codes, as graphics are (common practice).
type hdrPalette struct {
	to     media.Coding
	tables [1 << 16]*[256]hdrColour // by both colour differences, then by luma
}

// hdrColour is a colour in the clip's codes; luma 0 is none, as all codes are above it.
type hdrColour struct{ y, u, v uint16 }

func newHDRPalette(to media.Coding) *hdrPalette { return &hdrPalette{to: to} }

// of is the colour for codes of BT.709.
func (k *hdrPalette) of(y, u, v byte) hdrColour {
	page := k.tables[int(u)<<8|int(v)]
	if page == nil {
		page = new([256]hdrColour)
		k.tables[int(u)<<8|int(v)] = page
	}
	if page[y] == (hdrColour{}) {
		page[y] = k.computed(y, u, v)
	}
	return page[y]
}

// computed works a colour out.
func (k *hdrPalette) computed(y, u, v byte) hdrColour {
	if !k.to.HDR() {
		return hdrColour{uint16(y), uint16(u), uint16(v)}
	}
	// R'G'B' of ITU-R BT.709-6, items 3.2 to 3.4.
	luma, cb, cr := (float64(y)-16)/219, (float64(u)-128)/224, (float64(v)-128)/224
	r, b := luma+1.5748*cr, luma+1.8556*cb
	g := (luma - 0.2126*r - 0.0722*b) / 0.7152
	var light [3]float64 // cd/m²
	for i, c := range [3]float64{r, g, b} {
		light[i] = media.ReferenceWhite * math.Pow(min(max(c, 0), 1), 2.4)
	}
	var wide [3]float64
	for i, row := range ToBT2020() {
		for j, m := range row {
			wide[i] += m * light[j]
		}
	}
	signal := signalPQ(wide)
	if k.to.Transfer == media.HLG {
		signal = signalHLG(wide)
	}
	// ITU-R BT.2100-2, tables 6 and 9: non-constant luminance, 10 bits, limited.
	l := luma2020[0]*signal[0] + luma2020[1]*signal[1] + luma2020[2]*signal[2]
	code := func(x float64) uint16 { return uint16(math.Round(4 * x)) }
	return hdrColour{code(219*l + 16), code(224*(signal[2]-l)/1.8814 + 128), code(224*(signal[0]-l)/1.4746 + 128)}
}

// ToBT2020 brings linear light from the primaries of BT.709 to those of BT.2020
// (ITU-R BT.2087-0, from memory; inks_test.go derives it from the chromaticities).
func ToBT2020() [3][3]float64 {
	return [3][3]float64{{0.6274, 0.3293, 0.0433}, {0.0691, 0.9195, 0.0114}, {0.0164, 0.0880, 0.8956}}
}

// luma2020 are the weights of luma (ITU-R BT.2020-2, table 4).
var luma2020 = [3]float64{0.2627, 0.6780, 0.0593}

// signalPQ is the PQ signal of light in cd/m² (SMPTE ST 2084, ITU-R BT.2100-2,
// table 4).
func signalPQ(light [3]float64) (signal [3]float64) {
	const m1, m2 = 2610.0 / 16384, 2523.0 / 32
	const c1, c2, c3 = 3424.0 / 4096, 2413.0 / 128, 2392.0 / 128
	for i, l := range light {
		p := math.Pow(l/10000, m1)
		signal[i] = math.Pow((c1+c2*p)/(1+c3*p), m2)
	}
	return signal
}

// signalHLG is the HLG signal that a display of peakLight shows as light in cd/m²
// (ITU-R BT.2100-2, table 5: inverse of the system gamma of 1.2, then the OETF).
func signalHLG(light [3]float64) (signal [3]float64) {
	const a, gamma = 0.17883277, 1.2
	const b = 1 - 4*a
	c := 0.5 - a*math.Log(4*a)
	y := (luma2020[0]*light[0] + luma2020[1]*light[1] + luma2020[2]*light[2]) / media.PeakLight
	if y <= 0 {
		return signal
	}
	for i, l := range light {
		e := l / media.PeakLight * math.Pow(y, (1-gamma)/gamma)
		if e <= 1.0/12 {
			signal[i] = math.Sqrt(3 * e)
		} else {
			signal[i] = a*math.Log(12*e-b) + c
		}
	}
	return signal
}

// write turns a layer as it is drawn, packed planes of 8 bits, into the clip's codes,
// at a place of a larger picture of packed planes: with alpha if that has room for
// it.
func (k *hdrPalette) write(dst []byte, size, at image.Point, src []byte, p Layer) {
	w, h := p.Area.Dx(), p.Area.Dy()
	n, whole := w*h, size.X*size.Y
	room := len(dst) > 2*(whole+whole/2)
	put := func(i int, v int) { binary.LittleEndian.PutUint16(dst[2*i:], uint16(v)) }
	for y := 0; y < h; y += 2 {
		for x := 0; x < w; x += 2 {
			c := y/2*(w/2) + x/2
			u, v := src[n+c], src[n+n/4+c]
			var sum, su, sv int
			for d := range 4 {
				i := (y+d/2)*w + x + d%2
				to := (at.Y+y+d/2)*size.X + at.X + x + d%2
				one := hdrColour{uint16(k.to.Code(int(src[i]))), 512, 512}
				if !p.plain {
					one = k.of(src[i], u, v)
				}
				cover := 255
				if p.Kind == Alpha {
					cover = int(src[n*3/2+i])
				}
				put(to, int(one.y))
				if room {
					put(whole*3/2+to, (cover*1023+127)/255)
				}
				// Where nothing covers the picture, the colour hardly counts.
				weight := 1 + 256*cover
				sum, su, sv = sum+weight, su+weight*int(one.u), sv+weight*int(one.v)
			}
			to := whole + (at.Y+y)/2*(size.X/2) + (at.X+x)/2
			put(to, (su+sum/2)/sum)
			put(to+whole/4, (sv+sum/2)/sum)
		}
	}
}
