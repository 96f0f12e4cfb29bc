package record

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strings"

	"fairframe/render/scratch"
)

// A measured log that is kept says in its comments what it was made from, and has a digest
// of its rows.
const (
	MadeFrom  = "made from: "
	RowsSHA   = "rows sha256: "
	maxOrigin = 1 << 16 // bytes of a comment line
)

// measuredDigest identifies a measured log that nobody has edited by what it was made
// from: the same pictures and settings give the same rows, however much of the capture the
// log covers so far. ok is false for any other log.
func measuredDigest(path string) (digest string, ok bool) {
	f, err := scratch.Open(path)
	if err != nil {
		return "", false
	}
	defer f.Close()
	in := bufio.NewReaderSize(f, maxOrigin)
	origin, rows := "", ""
	for {
		next, err := in.Peek(1)
		if err != nil {
			return "", false
		}
		if next[0] != '#' {
			break
		}
		line, err := in.ReadSlice('\n')
		if err != nil {
			return "", false
		}
		text := strings.TrimSpace(strings.TrimPrefix(string(line), "#"))
		if strings.HasPrefix(text, MadeFrom) {
			origin = text
		} else if s, is := strings.CutPrefix(text, RowsSHA); is {
			rows = s
		}
	}
	h := sha256.New()
	if _, err := io.Copy(h, in); err != nil || origin == "" || rows != fmt.Sprintf("%x", h.Sum(nil)) {
		return "", false
	}
	sum := sha256.Sum256([]byte(origin))
	return hex.EncodeToString(sum[:]), true
}
