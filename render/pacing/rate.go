package pacing

import (
	"fmt"
	"math"
	"math/big"
	"math/bits"
	"strconv"
	"strings"
	"time"
)

// Rate is a frequency in Hz as an exact fraction: 60000/1001 is 59.94… frames
// a second. The zero value is no rate at all; see Valid.
//
// A rate is never a float: 59.94 as a float drifts by a frame in hours, and
// two captures drift apart.
type Rate struct{ Num, Den int64 }

// maxRatePart bounds numerator and denominator, so that products with times
// of days stay exact in the big arithmetic below and small in ffmpeg's 32 bit
// rationals.
const maxRatePart = 1 << 30

// NewRate returns num/den in lowest terms.
func NewRate(num, den int64) (Rate, error) {
	if num <= 0 || den <= 0 || num > maxRatePart || den > maxRatePart {
		return Rate{}, fmt.Errorf("pacing: rate %d/%d is not a positive fraction of moderate size", num, den)
	}
	g := gcd(num, den)
	return Rate{num / g, den / g}, nil
}

// ParseRate reads "60" or "60000/1001". A decimal such as 59.94 is refused,
// because it names no exact rate.
func ParseRate(s string) (Rate, error) {
	num, den, isFraction := strings.Cut(strings.TrimSpace(s), "/")
	n, err := strconv.ParseInt(num, 10, 64)
	d := int64(1)
	if err == nil && isFraction {
		d, err = strconv.ParseInt(den, 10, 64)
	}
	if err != nil {
		return Rate{}, fmt.Errorf(
			"pacing: rate %q is neither a whole number nor a fraction such as 60000/1001", s)
	}
	return NewRate(n, d)
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// Valid reports whether r is a rate at all.
func (r Rate) Valid() bool { return r.Num > 0 && r.Den > 0 }

// String returns "60" or "60000/1001".
func (r Rate) String() string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return strconv.FormatInt(r.Num, 10) + "/" + strconv.FormatInt(r.Den, 10)
}

// Hz returns the rate in frames a second, for display only; 0 of none.
func (r Rate) Hz() float64 {
	if r.Den == 0 {
		return 0
	}
	return float64(r.Num) / float64(r.Den)
}

// TimeOf returns when frame n begins: n/r, rounded to the nearest nanosecond.
func (r Rate) TimeOf(n int64) time.Duration {
	// (2·n·den·1e9 + num) div (2·num) is the rounded quotient. 128 bits hold it
	// for all but negative and enormous n.
	if n >= 0 && n < 1<<32 {
		hi, lo := bits.Mul64(uint64(n)*uint64(2*r.Den), uint64(time.Second))
		lo, carry := bits.Add64(lo, uint64(r.Num), 0)
		if hi += carry; hi < uint64(r.Num) { // so that the quotient fits in 63 bits
			q, _ := bits.Div64(hi, lo, uint64(2*r.Num))
			return time.Duration(q)
		}
	}
	v := big.NewInt(n)
	v.Mul(v, big.NewInt(2*r.Den)).Mul(v, big.NewInt(int64(time.Second))).Add(v, big.NewInt(r.Num))
	return time.Duration(v.Div(v, big.NewInt(2*r.Num)).Int64())
}

// FrameAt returns the frame on screen at t, the greatest n with n/r <= t. One
// nanosecond of grace lets TimeOf's rounding return to the frame it came from.
func (r Rate) FrameAt(t time.Duration) int64 {
	if t >= 0 && t < math.MaxInt64 {
		hi, lo := bits.Mul64(uint64(t)+1, uint64(r.Num))
		if per := uint64(r.Den) * uint64(time.Second); hi < per/2 {
			q, _ := bits.Div64(hi, lo, per)
			return int64(q)
		}
	}
	v := big.NewInt(int64(t))
	v.Add(v, big.NewInt(1)).Mul(v, big.NewInt(r.Num))
	return v.Div(v, big.NewInt(r.Den*int64(time.Second))).Int64()
}

// FramesIn returns how many frames begin in [0, d): the length of a clip of
// duration d, in frames.
func (r Rate) FramesIn(d time.Duration) int64 {
	if d <= 0 {
		return 0
	}
	v := big.NewInt(int64(d) - 1)
	v.Mul(v, big.NewInt(r.Num))
	q := v.Div(v, big.NewInt(r.Den*int64(time.Second))).Int64()
	return q + 1
}
