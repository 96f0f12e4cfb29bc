package media

import (
	"strings"
)

// Tag looks up a tag, whose key has another case in each container.
func Tag(tags map[string]string, key string) string {
	for k, v := range tags {
		if strings.EqualFold(k, key) {
			return v
		}
	}
	return ""
}

// timecode is the label of the first frame, as the container states it: in a
// track of its own, with the video, or for the whole file.
func (p *probed) timecode() string {
	for _, s := range p.Streams {
		if v := Tag(s.Tags, "timecode"); v != "" && s.Type != "audio" {
			return v
		}
	}
	return Tag(p.Format.Tags, "timecode")
}
