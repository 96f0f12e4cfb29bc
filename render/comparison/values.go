package comparison

import (
	"fmt"
	"image"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"fairframe/render/pacing"
	"go.yaml.in/yaml/v3"
)

// The single values of a comparison file. Each knows how it is read and how
// the schema describes it.

// readText reads one line to be shown.
func readText(d *decoder, v *string, n *yaml.Node, name string, tag reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "text")
	if !ok {
		return false
	}
	s = strings.TrimSpace(s)
	switch i := strings.IndexFunc(s, isControl); {
	case i >= 0 && (s[i] == '\n' || s[i] == '\r'):
		return d.fail(n, "", "%s: holds a line break, but is shown on one line", name)
	case i >= 0:
		r, _ := utf8.DecodeRuneInString(s[i:])
		return d.fail(n, "", "%s: holds the control character %U", name, r)
	case s == "" && tag.Get("min") != "":
		return d.fail(n, "remove the key to use its default", "%s: is empty", name)
	}
	if most := tagNumber(tag, "max"); int64(utf8.RuneCountInString(s)) > most {
		return d.fail(n, "", "%s: %d characters long, at most %d are allowed",
			name, utf8.RuneCountInString(s), most)
	}
	*v = s
	return true
}

// readOption reads a word of ffmpeg's command line. What it may be, media knows.
func readOption(d *decoder, v *string, n *yaml.Node, name string, _ reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "an option or its value")
	switch {
	case !ok:
		return false
	case len(s) > maxOption || strings.ContainsFunc(s, isControl):
		return d.fail(n, "", "%s: a word of more than %d bytes, or with a control character", name, maxOption)
	}
	*v = s
	return true
}

const maxOption = 500

// isControl reports whether r is a control character or a line break of
// Unicode's own.
func isControl(r rune) bool { return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' }

// readPath reads the path of a file or folder as written.
func readPath(d *decoder, v *string, n *yaml.Node, name string, _ reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "a path")
	switch {
	case !ok:
		return false
	case strings.TrimSpace(s) == "":
		return d.fail(n, "", "%s: the path is empty", name)
	case strings.ContainsFunc(s, isControl):
		return d.fail(n, "between \" and \" a \\ begins an escape: write paths with /",
			"%s: the path %s holds a control character", name, quote(s))
	}
	*v = s
	return true
}

const (
	identifierPattern = `^[A-Za-z0-9_][A-Za-z0-9_.-]{0,63}$`
	identifierRule    = "letters a to z, digits, - _ and . are allowed, at most 64, " +
		"beginning with a letter, a digit or _"
)

var (
	identifierForm = regexp.MustCompile(identifierPattern)
	// Windows keeps these names for devices, with any ending.
	deviceForm = regexp.MustCompile(`(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?$`)
)

// readIdentifier reads the name of a scene, safe as the name of a file.
func readIdentifier(d *decoder, v *string, n *yaml.Node, name string, _ reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "a name")
	switch {
	case !ok:
		return false
	case !identifierForm.MatchString(s):
		return d.fail(n, identifierRule, "%s: %s cannot name a file everywhere", name, quote(s))
	case deviceForm.MatchString(s):
		return d.fail(n, "choose another name", "%s: %s is the name of a device on Windows", name, quote(s))
	case strings.HasSuffix(s, "."):
		return d.fail(n, "remove the last full stop", "%s: %s ends in a full stop, which Windows removes",
			name, quote(s))
	}
	*v = s
	return true
}

// readCaptureKey reads the key of a capture, or one of the words in its tag.
func readCaptureKey(d *decoder, v *string, n *yaml.Node, name string, tag reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "the key of a capture")
	if !ok {
		return false
	}
	*v = s
	return true
}

// readWord reads one of the words in its tag.
func readWord(d *decoder, v *string, n *yaml.Node, name string, tag reflect.StructTag) bool {
	valid := words(tag)
	s, ok := d.scalar(n, name, "one of "+strings.Join(valid, ", "))
	switch {
	case !ok:
		return false
	case !slices.Contains(valid, s):
		return d.fail(n, Suggest(s, valid, "valid values"), "%s: unknown value %s", name, quote(s))
	}
	*v = s
	return true
}

// readFaults reads one of the words in its tag, or a list of them. The word none stands
// alone.
func readFaults(d *decoder, v *Faults, n *yaml.Node, name string, tag reflect.StructTag) bool {
	items := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		items = n.Content
	}
	if len(items) == 0 {
		return d.fail(n, "write none", "%s: the list is empty", name)
	}
	for _, item := range items {
		var w string
		switch {
		case !readWord(d, &w, item, name, tag):
			return false
		case slices.Contains(*v, w):
			return d.fail(item, "", "%s: %s is there twice", name, quote(w))
		}
		*v = append(*v, w)
	}
	if len(*v) > 1 && slices.Contains(*v, "none") {
		return d.fail(n, "remove none, or what stands beside it", "%s: none allows nothing beside it", name)
	}
	return true
}

// readChoice reads one of the two words in its tag: the second one is true.
func readChoice(d *decoder, v *bool, n *yaml.Node, name string, tag reflect.StructTag) bool {
	var s string
	ok := readWord(d, &s, n, name, tag)
	*v = ok && s == words(tag)[1]
	return ok
}

// readBool reads true or false.
func readBool(d *decoder, v *bool, n *yaml.Node, name string, _ reflect.StructTag) bool {
	if n.Kind != yaml.ScalarNode || n.ShortTag() != "!!bool" || n.Value != "true" && n.Value != "false" {
		return d.fail(n, "", "%s: expected true or false, found %s", name, found(n))
	}
	*v = n.Value == "true"
	return true
}

var (
	sizeForm = regexp.MustCompile(`^([0-9]{1,6})x([0-9]{1,6})$`)
	// What people write instead.
	looseSizeForm = regexp.MustCompile(`^\s*([0-9]{1,6})\s*[xX×*:,]\s*([0-9]{1,6})\s*$`)
)

// readSize reads a width and a height in pixels.
func readSize(d *decoder, v *image.Point, n *yaml.Node, name string, tag reflect.StructTag) bool {
	const expected = "width x height such as 1920x1080"
	s, ok := d.scalar(n, name, expected)
	if !ok {
		return false
	}
	m := sizeForm.FindStringSubmatch(s)
	if m == nil {
		hint := ""
		if m = looseSizeForm.FindStringSubmatch(s); m != nil {
			hint = "write " + m[1] + "x" + m[2]
		}
		return d.fail(n, hint, "%s: expected %s, found %s", name, expected, quote(s))
	}
	w, h := int(number(m[1])), int(number(m[2]))
	least, most := int(tagNumber(tag, "min")), int(tagNumber(tag, "max"))
	switch {
	case min(w, h) < least || max(w, h) > most:
		return d.fail(n, "", "%s: %s has a side outside %d to %d", name, s, least, most)
	case tag.Get("even") != "" && (w%2 != 0 || h%2 != 0):
		return d.fail(n, fmt.Sprintf("the nearest even size is %dx%d", w&^1, h&^1),
			"%s: %s has an odd side, which 4:2:0 video cannot have", name, s)
	}
	*v = image.Pt(w, h)
	return true
}

// readRate reads the frame rate of the output, which the times after it may count in.
func readRate(d *decoder, v *pacing.Rate, n *yaml.Node, name string, tag reflect.StructTag) bool {
	d.rate = pacing.Rate{}
	const expected = "a whole number or a fraction such as 60000/1001"
	s, ok := d.scalar(n, name, expected)
	if !ok {
		return false
	}
	num, den, isFraction := strings.Cut(s, "/")
	if !digits(num) || isFraction && !digits(den) {
		return d.fail(n, rateHint(s), "%s: %s is not %s", name, quote(s), expected)
	}
	r, err := pacing.ParseRate(s)
	least, most := tagNumber(tag, "min"), tagNumber(tag, "max")
	if err != nil || r.Num < least*r.Den || r.Num > most*r.Den {
		return d.fail(n, "", "%s: %s is outside %d to %d frames a second", name, quote(s), least, most)
	}
	*v, d.rate = r, r
	return true
}

// rateHint says what someone who wrote a decimal or a unit may have meant.
func rateHint(s string) string {
	s = strings.TrimSpace(s)
	for _, unit := range []string{"fps", "hz", "p"} {
		if len(s) > len(unit) && strings.EqualFold(s[len(s)-len(unit):], unit) {
			s = strings.TrimSpace(s[:len(s)-len(unit)])
		}
	}
	x, err := parseRatio(s)
	if err != nil || x.Num == 0 {
		return ""
	}
	// The rates that are a thousandth slow are written with two or three decimals.
	for _, whole := range []int64{24, 30, 48, 60, 72, 90, 96, 120, 240} {
		off := x.Float() - float64(whole)*1000/1001
		if -0.006 < off && off < 0.006 {
			return fmt.Sprintf("write %d/1001", whole*1000)
		}
	}
	return "write " + x.String()
}

// readRatio reads an exact number within the limits of its tag.
func readRatio(d *decoder, v *Ratio, n *yaml.Node, name string, tag reflect.StructTag) bool {
	r, ok := d.number(n, name, "a number")
	if !ok {
		return false
	}
	least, most := tagRatio(tag, "min"), tagRatio(tag, "max")
	if r.Cmp(least) < 0 || r.Cmp(most) > 0 {
		return d.fail(n, "", "%s: %s is outside %s to %s", name, n.Value, least, most)
	}
	*v = r
	return true
}

const levelPattern = `^-?[0-9]{1,3}(\.[0-9]{1,2})?$`

var (
	levelForm = regexp.MustCompile(levelPattern)
	// What people write instead.
	looseLevelForm = regexp.MustCompile(`(?i)^\s*-?\s*([0-9]{1,2}(\.[0-9]{1,2})?)\s*(lufs|lkfs|lu|db|)\s*$`)
)

// readLevel reads a loudness in LUFS, within the limits of its tag.
func readLevel(d *decoder, v *float64, n *yaml.Node, name string, tag reflect.StructTag) bool {
	const expected = "a loudness in LUFS such as -14 or -23"
	s, ok := d.scalar(n, name, expected)
	if !ok {
		return false
	}
	least, most := tagNumber(tag, "min"), tagNumber(tag, "max")
	x, err := strconv.ParseFloat(s, 64)
	switch {
	case levelForm.MatchString(s) && err == nil && x >= float64(least) && x <= float64(most):
		*v = x
		return true
	case !levelForm.MatchString(s) && !looseLevelForm.MatchString(s):
		return d.fail(n, "remove the key to keep the sound as it is", "%s: expected %s, found %s",
			name, expected, quote(s))
	}
	hint := ""
	if m := looseLevelForm.FindStringSubmatch(s); m != nil {
		if x, err := strconv.ParseFloat("-"+m[1], 64); err == nil && x >= float64(least) &&
			x <= float64(most) {
			hint = "write -" + m[1]
		}
	}
	return d.fail(n, hint, "%s: %s is outside %d to %d LUFS", name, quote(s), least, most)
}

// readInt reads a whole number within the limits of its tag.
func readInt(d *decoder, v *int, n *yaml.Node, name string, tag reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "a whole number")
	if !ok {
		return false
	}
	num, err := strconv.Atoi(s)
	if least, most := int(tagNumber(tag, "min")), int(tagNumber(tag, "max")); err != nil || num < least ||
		num > most {
		return d.fail(n, "", "%s: %s is no whole number from %d to %d", name, quote(s), least, most)
	}
	*v = num
	return true
}

// readTime reads a time in any form.
func readTime(d *decoder, v *Time, n *yaml.Node, name string, _ reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "a time")
	if !ok {
		return false
	}
	t, err := parseTime(s)
	if err != nil {
		return d.fail(n, err.Hint, "%s: %s", name, err.Msg)
	}
	*v = t
	return true
}

// readInstant reads a time of a scene or a clip, which may count the output's frames.
func readInstant(d *decoder, v *time.Duration, n *yaml.Node, name string, _ reflect.StructTag) bool {
	var t Time
	if !readTime(d, &t, n, name, "") {
		return false
	}
	at, err := t.at(d.rate)
	switch {
	case err == nil:
		*v = at
	case d.rate.Valid(): // a wrong rate has its own error
		d.fail(n, err.Hint, "%s: %s", name, err.Msg)
	}
	return err == nil
}

// spanForms is what hints say about how a span is written.
const spanForms = "spans are written 1s, 250ms, 1.5s or 00:00:01.500"

// readSpan reads a stretch of time, written without frames, within the limits of its
// tag; it may be negative where they let it.
func readSpan(d *decoder, v *time.Duration, n *yaml.Node, name string, tag reflect.StructTag) bool {
	s, ok := d.scalar(n, name, "a span of time")
	if !ok {
		return false
	}
	least, most := tagDuration(tag, "min"), tagDuration(tag, "max")
	abs, sign := s, time.Duration(1)
	if least < 0 && strings.HasPrefix(s, "-") {
		abs, sign = s[1:], -1
	}
	t, err := parseDuration(abs)
	switch {
	case err != nil && (codeForm.MatchString(s) || frameForm.MatchString(s)):
		return d.fail(n, spanForms, "%s: %s counts frames, which this span does not", name, quote(s))
	case err != nil && err.Hint == timeForms:
		return d.fail(n, spanForms, "%s: %s", name, err.Msg)
	case err != nil:
		return d.fail(n, err.Hint, "%s: %s", name, err.Msg)
	case sign*t < least || sign*t > most:
		return d.fail(n, "", "%s: %s is outside %s to %s", name, s, tag.Get("min"), tag.Get("max"))
	}
	*v = sign * t
	return true
}
