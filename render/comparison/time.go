package comparison

import (
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// maxTime bounds every time: a day, the range of a timecode.
const maxTime = 24 * time.Hour

// Time is an instant as a user writes it: 8s, 1m30s, 00:01:30.500 (hours,
// minutes, seconds), 00:01:30:15 and 00:01:30;15 (timecode, counted in frames)
// or f1234 (a frame number). The last three need a frame rate to be an instant;
// see At. The zero value is 0 s.
type Time struct {
	written string
	form    timeForm
	d       time.Duration // of a duration
	code    timecode      // of a timecode
	n       int64         // of a frame number
}

type timeForm uint8

const (
	duration timeForm = iota
	code
	frame
)

// String returns the time as it was written.
func (t Time) String() string {
	if t.written == "" {
		return t.d.String()
	}
	return t.written
}

// At returns the time from the first frame of a recording at that rate. A rate
// without such a timecode and a time beyond 24 h are errors.
func (t Time) At(rate pacing.Rate) (time.Duration, error) {
	d, err := t.at(rate)
	if err != nil {
		return 0, err
	}
	return d, nil
}

func (t Time) at(rate pacing.Rate) (time.Duration, *Error) {
	if t.form == duration {
		return t.d, nil
	}
	if !rate.Valid() {
		return 0, &Error{Msg: fmt.Sprintf("%s counts frames, of which the rate is not known",
			quote(t.written))}
	}
	n := t.n
	if t.form == code {
		var err *Error
		if n, err = t.code.frame(t.written, rate); err != nil {
			return 0, err
		}
	}
	// Compared before it is converted, because the conversion may overflow.
	seconds := new(big.Rat).Mul(big.NewRat(n, 1), big.NewRat(rate.Den, rate.Num))
	if seconds.Cmp(big.NewRat(int64(maxTime/time.Second), 1)) > 0 {
		return 0, &Error{Msg: fmt.Sprintf("%s at %s frames a second is more than 24 h",
			quote(t.written), rate)}
	}
	return rate.TimeOf(n), nil
}

// Frame returns the frame number that the time is written as, if it is.
func (t Time) Frame() (n int64, ok bool) { return t.n, t.form == frame }

// canonical is the same for two times that mean the same in the same form.
func (t Time) canonical() string {
	switch t.form {
	case code:
		return t.code.String()
	case frame:
		return "f" + strconv.FormatInt(t.n, 10)
	}
	return t.d.String()
}

// timeForms is what hints say about how a time is written.
const timeForms = "times are written 8s, 250ms, 1m30s, 00:01:30.500, 00:01:30:15, " +
	"00:01:30;15 (drop-frame) or f1234 (frame number)"

// ParseTime reads a time in any of its forms; see Time.
func ParseTime(s string) (Time, error) {
	t, err := parseTime(s)
	if err != nil {
		return Time{}, err
	}
	return t, nil
}

var (
	clockForm = regexp.MustCompile(`^(\d{2}):(\d{2}):(\d{2})(?:\.(\d+))?$`)
	codeForm  = regexp.MustCompile(`^(\d{2}):(\d{2}):(\d{2})([:;])(\d{2,3})$`)
	frameForm = regexp.MustCompile(`^f(\d+)$`)
	bareForm  = regexp.MustCompile(`^(\d+\.?\d*|\.\d+)$`)
	partForm  = regexp.MustCompile(`^(\d+)(?:\.(\d+))?(h|ms|m|s|us|µs|ns)`)
)

func parseTime(s string) (Time, *Error) {
	if len(s) > maxQuoted {
		return Time{}, &Error{Msg: quote(s) + " is not a time", Hint: timeForms}
	}
	if m := codeForm.FindStringSubmatch(s); m != nil {
		c := timecode{hour: number(m[1]), minute: number(m[2]), second: number(m[3]), drop: m[4] == ";",
			frames: number(m[5])}
		if c.hour > 23 || c.minute > 59 || c.second > 59 {
			return Time{}, &Error{Msg: quote(s) +
				" is not a timecode: it has at most 23 hours, 59 minutes and 59 seconds"}
		}
		return Time{written: s, form: code, code: c}, nil
	}
	if m := frameForm.FindStringSubmatch(s); m != nil {
		n, err := strconv.ParseInt(m[1], 10, 64)
		if err != nil || n > int64(maxTime/time.Microsecond) {
			return Time{}, &Error{Msg: quote(s) + " is more than 24 h at any frame rate"}
		}
		return Time{written: s, form: frame, n: n}, nil
	}
	d, err := parseDuration(s)
	if err != nil {
		if digits(s) {
			err.Hint += ", or f" + s + " for a frame number"
		}
		return Time{}, err
	}
	return Time{written: s, d: d}, nil
}

// parseDuration reads the forms of a time that need no frame rate: 1m30.5s and
// 00:01:30.500.
func parseDuration(s string) (time.Duration, *Error) {
	var sum big.Rat
	switch m := clockForm.FindStringSubmatch(s); {
	case m != nil:
		if number(m[2]) > 59 || number(m[3]) > 59 {
			return 0, &Error{Msg: quote(s) + " has more than 59 minutes or seconds"}
		}
		sum.Add(decimal(m[3], m[4]), big.NewRat(number(m[1])*3600+number(m[2])*60, 1))
	case bareForm.MatchString(s):
		return 0, &Error{Msg: "a time needs a unit, found " + quote(s),
			Hint: fmt.Sprintf("write %ss for seconds or %sms for milliseconds", s, s)}
	default:
		if strings.HasPrefix(s, "-") {
			if _, err := parseDuration(s[1:]); err == nil {
				return 0, &Error{Msg: quote(s) + " is before the beginning",
					Hint: "times count from the first frame of a capture and are never negative"}
			}
		}
		last := time.Duration(-1)
		for rest := s; ; {
			m := partForm.FindStringSubmatch(rest)
			if m == nil {
				return 0, &Error{Msg: quote(s) + " is not a time", Hint: timeForms}
			}
			unit, _ := time.ParseDuration("1" + m[3])
			if last >= 0 && unit >= last {
				return 0, &Error{Msg: quote(s) + " is not a time: units go from large to small, each once",
					Hint: timeForms}
			}
			last = unit
			part := decimal(m[1], m[2])
			sum.Add(&sum, part.Mul(part, big.NewRat(int64(unit), int64(time.Second))))
			if rest = rest[len(m[0]):]; rest == "" {
				break
			}
		}
	}
	if sum.Cmp(big.NewRat(int64(maxTime/time.Second), 1)) > 0 {
		return 0, &Error{Msg: quote(s) + " is more than 24 h"}
	}
	// Rounded to the nearest nanosecond: (2·sum·1e9 + 1) div 2.
	sum.Mul(&sum, big.NewRat(2*int64(time.Second), 1)).Add(&sum, big.NewRat(1, 1))
	ns := new(big.Int).Quo(sum.Num(), sum.Denom())
	return time.Duration(ns.Int64() / 2), nil
}

// decimal returns whole.frac exactly; both are digits, and frac may be empty.
func decimal(whole, frac string) *big.Rat {
	r, _ := new(big.Rat).SetString(whole + "." + frac + "0")
	return r
}

// number returns the value of a few digits. A pattern has checked them before.
func number(digits string) int64 {
	n, _ := strconv.ParseInt(digits, 10, 64)
	return n
}

// timecode is a label of SMPTE ST 12-1: hours, minutes, seconds and frames.
type timecode struct {
	hour, minute, second, frames int64
	drop                         bool
}

// String returns the label as 00:01:30:15, or 00:01:30;15 when frames are dropped.
func (c timecode) String() string {
	sep := ":"
	if c.drop {
		sep = ";"
	}
	return fmt.Sprintf("%02d:%02d:%02d%s%02d", c.hour, c.minute, c.second, sep, c.frames)
}

// counting returns how many frames timecode counts in a second, a whole number. It also
// returns how many labels drop-frame leaves out at the start of each minute, except every
// tenth minute (SMPTE ST 12-1; pairs of them at 60000/1001).
func counting(rate pacing.Rate, drop bool) (perSecond, dropped int64, err *Error) {
	switch {
	case rate.Den == 1:
		perSecond = rate.Num
	case rate.Den == 1001 && rate.Num%1000 == 0:
		perSecond = rate.Num / 1000
	default:
		return 0, 0, &Error{Msg: fmt.Sprintf("timecode is not defined at %s frames a second", rate),
			Hint: "write the time as 1m30s, 00:01:30.500 or f1234"}
	}
	switch {
	case !drop:
	case rate == pacing.Rate{Num: 30000, Den: 1001}:
		dropped = 2
	case rate == pacing.Rate{Num: 60000, Den: 1001}:
		dropped = 4
	default:
		return 0, 0, &Error{Msg: fmt.Sprintf("drop-frame timecode is not defined at %s frames a second",
			rate),
			Hint: "drop-frame belongs to 30000/1001 and 60000/1001; elsewhere write 00:01:30:15"}
	}
	return perSecond, dropped, nil
}

// frame returns the number of the frame with that label at that rate.
func (c timecode) frame(written string, rate pacing.Rate) (int64, *Error) {
	perSecond, dropped, err := counting(rate, c.drop)
	if err != nil {
		return 0, &Error{Msg: quote(written) + ": " + err.Msg, Hint: err.Hint}
	}
	if c.frames >= perSecond {
		return 0, &Error{Msg: fmt.Sprintf("%s does not exist: the frames of a second are 00 to %02d "+
			"at %s frames a second", quote(written), perSecond-1, rate)}
	}
	minutes := c.hour*60 + c.minute
	if c.second == 0 && c.frames < dropped && minutes%10 != 0 {
		return 0, &Error{Msg: fmt.Sprintf("%s does not exist: drop-frame leaves out ;00 to ;%02d in "+
			"minutes that are not a multiple of ten", quote(written), dropped-1),
			Hint: fmt.Sprintf("the first label of that minute is %02d:%02d:00;%02d",
				c.hour, c.minute, dropped)}
	}
	return (minutes*60+c.second)*perSecond + c.frames - dropped*(minutes-minutes/10), nil
}

// Timecode returns the label of frame n at that rate by SMPTE ST 12-1, with or without
// drop-frame. Labels start again after 24 h; a negative n counts back from 24 h. A rate
// without such a timecode is an error.
func Timecode(n int64, rate pacing.Rate, drop bool) (string, error) {
	perSecond, dropped, err := counting(rate, drop)
	if err != nil {
		return "", err
	}
	// Every ten minutes hold the same number of frames; of their minutes the
	// first is full, and each later one lacks the dropped labels.
	perMinute := 60*perSecond - dropped
	perTen := 10*perMinute + dropped
	day := 24 * 6 * perTen
	n = (n%day + day) % day
	tens, rest := n/perTen, n%perTen
	n += tens * 9 * dropped
	if rest >= 60*perSecond {
		n += dropped * ((rest - dropped) / perMinute)
	}
	return timecode{n / perSecond / 3600, n / perSecond / 60 % 60, n / perSecond % 60, n % perSecond,
		drop}.String(), nil
}

// TimecodeFrame is the inverse of Timecode. It returns the number of the frame with a
// label, 00:01:30:15 or 00:01:30;15, and whether the label counts in drop-frame. Without
// drop-frame, a day of labels at 60000/1001 is longer than 24 h, so not every label is
// a Time.
func TimecodeFrame(label string, rate pacing.Rate) (n int64, drop bool, err error) {
	t, perr := parseTime(label)
	switch {
	case perr != nil:
		return 0, false, perr
	case t.form != code:
		return 0, false, &Error{Msg: quote(label) + " is not a timecode"}
	}
	if n, perr = t.code.frame(label, rate); perr != nil {
		return 0, false, perr
	}
	return n, t.code.drop, nil
}
