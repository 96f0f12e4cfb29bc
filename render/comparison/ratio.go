package comparison

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// Ratio is an exact fraction in lowest terms, 0 <= Num and 0 < Den, both at
// most 1e9. The zero value is no ratio.
type Ratio struct{ Num, Den int64 }

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
			return Ratio{n, d}, nil
		}
	}
	return Ratio{}, fmt.Errorf("%s has too many digits", quote(s))
}

// digits reports whether s is one decimal digit or more, and nothing else.
func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// String returns "3" or "3/2".
func (r Ratio) String() string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return fmt.Sprintf("%d/%d", r.Num, r.Den)
}

// Float returns the nearest float, for display only.
func (r Ratio) Float() float64 { return float64(r.Num) / float64(r.Den) }

// plus returns the exact sum; an error when it has too many digits.
func (r Ratio) plus(s Ratio) (Ratio, error) {
	q := new(big.Rat).Add(big.NewRat(r.Num, r.Den), big.NewRat(s.Num, s.Den))
	if !q.Num().IsInt64() || !q.Denom().IsInt64() || q.Num().Int64() > maxRatioPart ||
		q.Denom().Int64() > maxRatioPart {
		return Ratio{}, fmt.Errorf("%s and %s together have too many digits", r, s)
	}
	return Ratio{q.Num().Int64(), q.Denom().Int64()}, nil
}

// cmp compares r with s: -1, 0 or +1 as it is less, equal or more.
func (r Ratio) cmp(s Ratio) int {
	return big.NewRat(r.Num, r.Den).Cmp(big.NewRat(s.Num, s.Den))
}
