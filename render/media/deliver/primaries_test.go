package deliver

import (
	"fmt"
	"image"
	"math"
	"testing"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// chromaticities of R, G, B and white: ITU-R BT.709-6 item 1.3, SMPTE RP 431-2, SMPTE EG 432-1, ITU-R BT.2020-2 table 3; from memory.
var chromaticities = map[string][4][2]float64{
	"bt709":    {{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}, {0.3127, 0.3290}},
	"smpte431": {{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}, {0.314, 0.351}},
	"smpte432": {{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}, {0.3127, 0.3290}},
	"bt2020":   {{0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}, {0.3127, 0.3290}},
}

type matrix [3][3]float64

func (m matrix) of(v [3]float64) (out [3]float64) {
	for i := range m {
		for j := range v {
			out[i] += m[i][j] * v[j]
		}
	}
	return out
}

func (m matrix) times(o matrix) (out matrix) {
	for i := range m {
		for j := range m {
			for k := range m {
				out[i][j] += m[i][k] * o[k][j]
			}
		}
	}
	return out
}

func (m matrix) inverse() (out matrix) {
	minor := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	det := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	for i := range m {
		for j := range m {
			out[j][i] = minor(i, j) / det
		}
	}
	return out
}

func xyz(c [2]float64) [3]float64 { return [3]float64{c[0] / c[1], 1, (1 - c[0] - c[1]) / c[1]} }

// toXYZ is the matrix from linear R, G, B to CIE XYZ (SMPTE RP 177).
func toXYZ(c [4][2]float64) matrix {
	var p matrix
	for j := range 3 {
		v := xyz(c[j])
		for i := range 3 {
			p[i][j] = v[i]
		}
	}
	s := p.inverse().of(xyz(c[3]))
	for i := range p {
		for j := range p {
			p[i][j] *= s[j]
		}
	}
	return p
}

// between is the matrix from one set of primaries to another, whites adapted by
// Bradford's method (ICC.1, annex E; from memory).
func between(from, to string) matrix {
	bradford := matrix{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}
	a, b := bradford.of(xyz(chromaticities[from][3])), bradford.of(xyz(chromaticities[to][3]))
	var scale matrix
	for i := range scale {
		scale[i][i] = b[i] / a[i]
	}
	adapt := bradford.inverse().times(scale).times(bradford)
	return toXYZ(chromaticities[to]).inverse().times(adapt).times(toXYZ(chromaticities[from]))
}

// TestPrimariesAreConverted: bars of other primaries arrive as the colours that their
// chromaticities stand for, in SDR and in HDR.
func TestPrimariesAreConverted(t *testing.T) {
	// The published matrix is the one that follows from the chromaticities.
	for i, row := range between("bt709", "bt2020") {
		for j, v := range row {
			if math.Abs(v-graph.ToBT2020()[i][j]) > 0.00006 {
				t.Errorf("BT.2087 has %g at %d, %d, the chromaticities make %.5f", graph.ToBT2020()[i][j], i, j, v)
			}
		}
	}
	var bands []band
	var lights [][3]float64
	var codes []ycc
	for _, c := range barLights() {
		for i := range c {
			c[i] = max(c[i], 0.3) // paler: at the edge of the gamut all hangs on less than a code
		}
		lights, codes = append(lights, c), append(codes, of709.codes(c, 8))
	}
	sets := []string{"bt709", "smpte431", "smpte432"}
	for _, p := range sets {
		bands = append(bands, band{p, codes, "yuv444p", []string{"-colorspace", "bt709", "-color_primaries", p, "-color_trc", "bt709", "-color_range", "tv"}})
	}
	clip := record(t, bands)
	got := shown(t, clip, bands)
	clip.Delivery = exactly(t, "pq")
	high, _ := rendered(t, clip)
	for i, p := range sets {
		for j, c := range lights {
			var linear [3]float64
			for k := range c {
				linear[k] = math.Pow(float64(c[k]), 2.4) // ITU-R BT.1886
			}
			var want, wide [3]float64
			for k, v := range between(p, "bt709").of(linear) {
				want[k] = math.Pow(min(1, max(0, v)), 1/2.4)
			}
			if w := of709.codes(want, 8); worst(got[i][j], w) > 2 {
				t.Errorf("%s: bar %d is %v, its chromaticities make %v", p, j, got[i][j], w)
			}
			for k, v := range between(p, "bt2020").of(linear) {
				wide[k] = 203 * max(0, v)
			}
			code := deepAt(high, clip.Size, image.Pt(barCentre(j, 8, bandSize.X), i*bandSize.Y+bandSize.Y/2))
			if !alike(wide, lightOf(media.PQ, code)) {
				t.Errorf("%s: bar %d is %v in PQ, light %.1f instead of %.1f", p, j, code, lightOf(media.PQ, code), wide)
			}
		}
	}
	if fmt.Sprint(got[0]) == fmt.Sprint(got[2]) {
		t.Error("P3 and BT.709 look the same")
	}
}
