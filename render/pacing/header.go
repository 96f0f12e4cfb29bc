package pacing

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
)

// delimiters in the order in which they are tried: names hold spaces more often
// than commas, and commas more often than tabs. 0 is a log of one column.
const delimiters = "\t;,| \x00"

// header is what the first line of a log says of the others.
type header struct {
	delimiter byte
	columns   []string
	index     map[string]int // of the columns that were asked for
	width     int            // the fields that a row needs

	line   bytes.Reader // the line that quoted reads
	quoted *csv.Reader
}

// readHeader finds the delimiter that yields the wanted columns. Missing ones of
// the optional columns are no error.
func readHeader(line []byte, wanted, optional []string) (*header, error) {
	if bytes.IndexByte(line, 0) >= 0 {
		return nil, fmt.Errorf("is not text in UTF-8 (its header holds zero bytes)")
	}
	var most []string
	for i := range len(delimiters) {
		h := &header{delimiter: delimiters[i], index: map[string]int{}}
		columns, err := h.split(nil, line)
		if err != nil {
			continue
		}
		for _, c := range columns {
			h.columns = append(h.columns, string(bytes.TrimSpace(c)))
		}
		if len(h.columns) > len(most) {
			most = h.columns
		}
		if h.find(wanted, true) && h.find(optional, false) {
			return h, nil
		}
	}
	for _, w := range wanted {
		switch n := count(most, w); {
		case n > 1:
			return nil, fmt.Errorf("has %d columns named %q", n, w)
		case n == 0 && len(most) > 0:
			return nil, missingColumn(w, most)
		}
	}
	return nil, fmt.Errorf("has a header that cannot be split into columns (%.80q)", line)
}

// find notes where the named columns are, and reports whether that is possible.
// A name that fits but for capitals will do when only one does.
func (h *header) find(names []string, needed bool) bool {
	for _, name := range names {
		at := -1
		for pass := 0; pass < 2 && at < 0; pass++ {
			for i, c := range h.columns {
				if c == name || pass == 1 && strings.EqualFold(c, name) {
					if at >= 0 {
						return false
					}
					at = i
				}
			}
		}
		if at >= 0 {
			h.index[name] = at
			h.width = max(h.width, at+1)
		} else if needed {
			return false
		}
	}
	return true
}

func count(columns []string, name string) int {
	n := 0
	for _, c := range columns {
		if strings.EqualFold(c, name) {
			n++
		}
	}
	return n
}

func missingColumn(name string, columns []string) error {
	const listed = 30
	var b strings.Builder
	fmt.Fprintf(&b, "has no column %.80q; its columns are", name)
	for i, c := range columns {
		if i == listed {
			fmt.Fprintf(&b, " and %d more", len(columns)-listed)
			break
		}
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, " %.80q", c)
	}
	if near := nearest(name, columns); near != "" {
		fmt.Fprintf(&b, "; did you mean %.80q?", near)
	}
	return fmt.Errorf("%s", b.String())
}

// split appends the line's fields to dst, at least as many as a row needs if
// there are that many. They are valid until the next call.
//
// Lines with quotes are left to encoding/csv, line by line: over the whole log, it
// would take one quote that is never closed for a field as long as the log. The
// other lines are cut here: that reader would nearly double the time a log takes
// (BenchmarkCSV beside BenchmarkScanner).
func (h *header) split(dst [][]byte, line []byte) ([][]byte, error) {
	if bytes.IndexByte(line, '"') >= 0 {
		return h.splitQuoted(dst, line)
	}
	if h.delimiter == 0 {
		return append(dst, line), nil
	}
	if h.delimiter == ' ' {
		for f := range bytes.FieldsSeq(line) {
			dst = append(dst, f)
		}
		return dst, nil
	}
	for h.width == 0 || len(dst) < h.width {
		i := bytes.IndexByte(line, h.delimiter)
		if i < 0 {
			return append(dst, line), nil
		}
		dst = append(dst, line[:i])
		line = line[i+1:]
	}
	return dst, nil
}

func (h *header) splitQuoted(dst [][]byte, line []byte) ([][]byte, error) {
	if h.quoted == nil {
		h.quoted = csv.NewReader(&h.line)
		h.quoted.Comma = rune(h.delimiter)
		if h.delimiter == 0 {
			h.quoted.Comma = '\x1f' // a control character that no line of text holds
		}
		h.quoted.TrimLeadingSpace = h.delimiter == ' '
		h.quoted.FieldsPerRecord = -1
		h.quoted.ReuseRecord = true
	}
	h.line.Reset(line)
	fields, err := h.quoted.Read()
	if err != nil {
		return dst, fmt.Errorf("has quotes that do not pair up")
	}
	for _, f := range fields {
		dst = append(dst, []byte(f))
	}
	return dst, nil
}
