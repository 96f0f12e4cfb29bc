package deliver

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"fairframe/render/media"
)

// Digests are the MD5 of all packets of a file's first picture and its first
// sound, in hexadecimal: what is coded, whatever container it lies in. Sound is ""
// where there is none. Anybody can work them out:
//
//	ffmpeg -i CLIP -map 0:v:0 -c copy -f streamhash -hash md5 -
type Digests struct{ Video, Sound string }

// ReadDigests reads a file and decodes nothing.
func ReadDigests(ctx context.Context, t *media.Tools, path string) (Digests, error) {
	d, _, err := readThrough(ctx, t, path)
	return d, err
}

// readThrough reads all packets of a file, and gathers their stamps as it takes their
// digest. Both lists come on one pipe: lines of packets are written whole, one by one,
// and the digests behind them.
func readThrough(ctx context.Context, t *media.Tools, path string) (d Digests, shown stamped, err error) {
	if err := media.CheckReadable(path); err != nil {
		return d, shown, err
	}
	streams := []string{"-map", "0:v:0", "-map", "0:a:0?", "-c", "copy"}
	read := func(r io.Reader) error {
		var list packetLines
		lines := bufio.NewScanner(r)
		for lines.Scan() {
			// A digest's line: stream,type,MD5=…
			fields := strings.Split(lines.Text(), ",")
			if value, ok := strings.CutPrefix(fields[len(fields)-1], "MD5="); ok && len(fields) == 3 {
				if fields[1] == "v" {
					d.Video = value
				} else {
					d.Sound = value
				}
				continue
			}
			p, known, err := list.line(lines.Text())
			if err != nil {
				return err
			}
			if known {
				shown.add(p)
			}
		}
		return lines.Err()
	}
	err = t.Run(ctx, media.Process{Stdout: read, What: fmt.Sprintf("media: reading %s failed", path),
		Args: slices.Concat(media.Globals("error", "-copyts"), media.InputGuard(), []string{"-i", media.FileURL(path)},
			streams, []string{"-flush_packets", "1", "-f", "framecrc", "pipe:1"},
			streams, []string{"-f", "streamhash", "-hash", "md5", "pipe:1"})})
	if err == nil && d.Video == "" {
		err = fmt.Errorf("media: %s was not read to its end", path)
	}
	return d, shown, err
}
