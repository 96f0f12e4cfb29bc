package pacing

import (
	"bytes"
	"time"
)

var pow10 = [...]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
	1e16, 1e17, 1e18, 1e19}

type parseFault uint8

const (
	parsed parseFault = iota
	notNumber
	outOfRange
)

// parseTime reads a decimal number whose unit is 10^exponent ns, to the nearest
// ns, halves away from zero. No float is involved: 0.1 is a tenth. A decimal
// comma is taken as a point. The last digit written stands for 10^last ns.
func parseTime(b []byte, exponent int) (d time.Duration, last int, fault parseFault) {
	b = bytes.TrimSpace(b)
	negative := false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		negative = b[0] == '-'
		b = b[1:]
	}
	var mantissa uint64
	last = exponent
	digits, point := 0, false
	cut, up := false, false // there are dropped digits; they would round up
	i := 0
scan:
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case '0' <= c && c <= '9':
			digits++
			if mantissa < 1e18 {
				mantissa = mantissa*10 + uint64(c-'0')
				if point {
					last--
				}
				continue
			}
			// Digits beyond the 19th are dropped: of them, only the first can
			// decide on rounding.
			if !cut {
				cut, up = true, c >= '5'
			}
			if !point {
				last++
			}
		case (c == '.' || c == ',') && !point:
			point = true
		default:
			break scan
		}
	}
	if digits == 0 {
		return 0, 0, notNumber
	}
	if i < len(b) {
		e, ok := parseExponent(b[i:])
		if !ok {
			return 0, 0, notNumber
		}
		last += e
	}
	switch {
	case mantissa == 0:
	case last > 18:
		return 0, 0, outOfRange
	case last >= 0:
		if last == 0 && up {
			mantissa++
		}
		if mantissa > uint64(maxTime)/pow10[last] {
			return 0, 0, outOfRange
		}
		mantissa *= pow10[last]
	case last >= -19:
		mantissa = (mantissa + pow10[-last]/2) / pow10[-last]
	default:
		mantissa = 0
	}
	if mantissa > uint64(maxTime) {
		return 0, 0, outOfRange
	}
	if negative {
		return -time.Duration(mantissa), last, parsed
	}
	return time.Duration(mantissa), last, parsed
}

// parseExponent reads "e-05"; what is beyond ±999 is cut to that.
func parseExponent(b []byte) (e int, ok bool) {
	if b[0] != 'e' && b[0] != 'E' {
		return 0, false
	}
	b = b[1:]
	negative := false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		negative = b[0] == '-'
		b = b[1:]
	}
	if len(b) == 0 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		e = min(e*10+int(c-'0'), 999)
	}
	if negative {
		e = -e
	}
	return e, true
}
