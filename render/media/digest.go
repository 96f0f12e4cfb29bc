package media

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// Digests are the MD5 of all packets of a file's first picture and its first
// sound, in hexadecimal: what is coded, whatever container it lies in. Sound is ""
// where there is none. Anybody can work them out:
//
//	ffmpeg -i CLIP -map 0:v:0 -c copy -f streamhash -hash md5 -
type Digests struct{ Video, Sound string }

// Digests reads a file and decodes nothing.
func (t *Tools) Digests(ctx context.Context, path string) (Digests, error) {
	d, _, err := t.readThrough(ctx, path)
	return d, err
}

// readThrough reads all packets of a file, and counts its pictures as it takes
// their digest.
func (t *Tools) readThrough(ctx context.Context, path string) (d Digests, pictures int64, err error) {
	if err := readable(path); err != nil {
		return d, 0, err
	}
	var out strings.Builder
	err = t.run(ctx, process{program: t.FFmpeg, stdout: readAllInto(&out), what: fmt.Sprintf("media: reading %s failed", path),
		args: slices.Concat([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-progress", "pipe:1", "-copyts"}, guard(),
			[]string{"-i", fileURL(path), "-map", "0:v:0", "-map", "0:a:0?", "-c", "copy", "-f", "streamhash", "-hash", "md5", "pipe:1"})})
	if err != nil {
		return d, 0, err
	}
	// stream,type,MD5=… among the lines of the progress, which are key=value.
	var told lastProgress
	for line := range strings.Lines(out.String()) {
		fields := strings.Split(strings.TrimSpace(line), ",")
		if len(fields) != 3 {
			continue
		}
		value, ok := strings.CutPrefix(fields[2], "MD5=")
		switch {
		case !ok:
			return d, 0, fmt.Errorf("media: digest %q of %s", line, path)
		case fields[1] == "v":
			d.Video = value
		default:
			d.Sound = value
		}
	}
	if err := told.read(strings.NewReader(out.String()), nil); err != nil {
		return d, 0, fmt.Errorf("media: reading %s: %w", path, err)
	}
	if d.Video == "" || !told.ended {
		return d, 0, fmt.Errorf("media: %s was not read to its end", path)
	}
	return d, told.frame, nil
}
