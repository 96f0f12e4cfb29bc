package comparison

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"fairframe/layout"
)

// Ratio is an exact fraction, 0 <= Num and 0 < Den, both at most 1e9.
type Ratio = layout.Fraction

// maxRatioPart bounds both parts, so that products with picture sizes stay
// far inside 64 bits.
const maxRatioPart = 1_000_000_000

// parseRatio reads a decimal such as 1.5 or a fraction such as 3/2, exactly.
func parseRatio(s string) (Ratio, error) {
	num, den, isFraction := strings.Cut(s, "/")
	whole, frac, isDecimal := strings.Cut(num, ".")
	if isFraction && isDecimal || !digits(whole+frac) || isFraction && !digits(den) {
		return Ratio{}, fmt.Errorf("%s is neither a decimal such as 1.5 nor a fraction such as 3/2", quote(s))
	}
	frac = strings.TrimRight(frac, "0")
	n, errN := strconv.ParseInt(whole+frac, 10, 64)
	d, errD := int64(1), error(nil)
	switch {
	case isFraction:
		d, errD = strconv.ParseInt(den, 10, 64)
	case len(frac) <= 9:
		for range frac {
			d *= 10
		}
	default:
		return Ratio{}, fmt.Errorf("%s has more than nine decimals", quote(s))
	}
	if errN == nil && errD == nil && d == 0 {
		return Ratio{}, fmt.Errorf("%s divides by zero", quote(s))
	}
	if errN == nil && errD == nil {
		q := big.NewRat(n, d)
		if n, d = q.Num().Int64(), q.Denom().Int64(); n <= maxRatioPart && d <= maxRatioPart {
			return Ratio{Num: n, Den: d}, nil
		}
	}
	return Ratio{}, fmt.Errorf("%s has too many digits", quote(s))
}

// digits reports whether s is one decimal digit or more, and nothing else.
func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// plus returns the exact sum; an error when it has too many digits.
func plus(r, s Ratio) (Ratio, error) {
	q := new(big.Rat).Add(r.Rat(), s.Rat())
	if !q.Num().IsInt64() || !q.Denom().IsInt64() || q.Num().Int64() > maxRatioPart ||
		q.Denom().Int64() > maxRatioPart {
		return Ratio{}, fmt.Errorf("%s and %s together have too many digits", r, s)
	}
	return Ratio{Num: q.Num().Int64(), Den: q.Denom().Int64()}, nil
}
