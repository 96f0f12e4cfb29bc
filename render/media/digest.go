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
	if err := readable(path); err != nil {
		return Digests{}, err
	}
	var out strings.Builder
	err := t.run(ctx, process{program: t.FFmpeg, stdout: readAllInto(&out), what: fmt.Sprintf("media: reading %s failed", path),
		args: slices.Concat([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, guard(),
			[]string{"-i", fileURL(path), "-map", "0:v:0", "-map", "0:a:0?", "-c", "copy", "-f", "streamhash", "-hash", "md5", "pipe:1"})})
	if err != nil {
		return Digests{}, err
	}
	var d Digests
	for _, line := range strings.Fields(out.String()) {
		// stream,type,MD5=…
		fields := strings.Split(line, ",")
		if len(fields) != 3 {
			return d, fmt.Errorf("media: digest %q of %s", line, path)
		}
		value := strings.TrimPrefix(fields[2], "MD5=")
		if fields[1] == "v" {
			d.Video = value
		} else {
			d.Sound = value
		}
	}
	return d, nil
}
