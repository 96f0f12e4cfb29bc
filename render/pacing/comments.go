package pacing

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
)

// maxComments bounds the memory for a log's comments.
const maxComments = 1000

// Comments returns the comments with which a log begins, as WriteLog was given
// them, and reads no further than the line after them.
func Comments(r io.Reader) ([]string, error) {
	in := bufio.NewReaderSize(r, maxLine)
	var comments []string
	for first := true; len(comments) < maxComments; first = false {
		line, err := in.ReadSlice('\n')
		if err != nil && err != io.EOF {
			return nil, fmt.Errorf("pacing: comments: %w", err)
		}
		if first {
			line = bytes.TrimPrefix(line, []byte("\ufeff"))
		}
		comment, ok := bytes.CutPrefix(line, []byte("#"))
		if !ok {
			break
		}
		comment = bytes.TrimRight(comment, "\r\n")
		comments = append(comments, string(bytes.TrimPrefix(comment, []byte(" "))))
		if err == io.EOF {
			break
		}
	}
	return comments, nil
}
