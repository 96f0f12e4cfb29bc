package media

import (
	"context"
	"strings"
)

// recordKey is the key, among a clip's tags, of the record that it carries of
// its own making.
const recordKey = "fairframe"

// hasTags reports whether a muxer writes tags that are a program's own: the
// record and the time code.
func hasTags(format string) bool {
	switch format {
	case "mp4", "mov", "matroska", "webm":
		return true
	}
	return false
}

// HasTags reports whether clips of this delivery can carry a record and a time
// code.
func (d Delivery) HasTags() bool { return hasTags(d.variant.format) }

// tagArgs are the output arguments for what the clip carries beside its streams.
func (c *Clip) tagArgs() []string { return tagArgsOf(c.Delivery.variant.format, c.Record, c.Timecode) }

// tagArgsOf are the output arguments for tags. A record is a value by
// itself, never part of a filter or an option's syntax. MP4 and MOV write keys
// of one's own only when told to, and a time code makes them add a tmcd track.
func tagArgsOf(format, record, timecode string) []string {
	if !hasTags(format) {
		return nil
	}
	var args []string
	if record != "" {
		if format == "mp4" || format == "mov" {
			args = append(args, "-movflags", "+use_metadata_tags")
		}
		args = append(args, "-metadata", recordKey+"="+record)
	}
	if timecode != "" {
		args = append(args, "-metadata", "timecode="+timecode)
	}
	return args
}

// Record returns the record that a clip carries of its own making, "" when it
// carries none. It is the file's word and not to be trusted further.
func (t *Tools) Record(ctx context.Context, path string) (string, error) {
	if err := readable(path); err != nil {
		return "", err
	}
	var p struct {
		Format struct {
			Tags map[string]string `json:"tags"`
		} `json:"format"`
	}
	if err := t.probeInto(ctx, path, &p, "-show_format"); err != nil {
		return "", err
	}
	return tag(p.Format.Tags, recordKey), nil
}

// tag looks up a tag, whose key has another case in each container.
func tag(tags map[string]string, key string) string {
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
		if v := tag(s.Tags, "timecode"); v != "" && s.Type != "audio" {
			return v
		}
	}
	return tag(p.Format.Tags, "timecode")
}
