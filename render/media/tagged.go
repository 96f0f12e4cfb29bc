package media

// Tags are what a capture's container says of its colours, without anything
// assumed, in ffmpeg's words; "" where it says nothing.
type Tags struct{ Range, Matrix, Primaries, Transfer string }

// tags returns what is said of a stream.
func (s *probedStream) tags() Tags {
	return Tags{said(s.Range), said(s.Space), said(s.Primaries), said(s.Transfer)}
}

// said returns a tag, "" for the words that stand for none.
func said(tag string) string {
	switch tag {
	case "unknown", "unspecified", "reserved":
		return ""
	}
	return tag
}
