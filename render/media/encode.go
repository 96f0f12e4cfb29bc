package media

import (
	"context"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"strings"

	"fairframe/render/pacing"
)

// EncodeSpec describes a capture to be made from pictures drawn in Go, as the
// demo does. Filter and Args are the program's own and never a user's text.
type EncodeSpec struct {
	Out    string      // path of the file; its extension does not choose the format, Args' "-f" does
	Size   image.Point // of the raw frames
	PixFmt string      // of the raw frames, in ffmpeg's words, such as "yuv420p"
	Rate   pacing.Rate
	Sound  string   // path of a WAV file, or ""
	Filter string   // a -vf chain, or ""
	Args   []string // encoder and muxer arguments; the colour tags among them hold of what Filter puts out
}

// Encode runs ffmpeg over the raw frames that write sends, and returns when the
// file is complete. The file appears under its name only then.
func (t *Tools) Encode(ctx context.Context, s EncodeSpec, write func(w io.Writer) error) error {
	part, err := TempFile(s.Out)
	if err != nil {
		return err
	}
	defer os.Remove(part)
	args := []string{"-y", "-hide_banner", "-v", "level+warning", "-nostats", "-nostdin",
		"-protocol_whitelist", "pipe", "-f", "rawvideo", "-pix_fmt", s.PixFmt,
		"-video_size", fmt.Sprintf("%dx%d", s.Size.X, s.Size.Y), "-framerate", s.Rate.String(), "-i", "pipe:0"}
	if s.Sound != "" {
		args = append(args, "-protocol_whitelist", "file", "-format_whitelist", "wav", "-i", FileURL(s.Sound),
			"-map", "0:v:0", "-map", "1:a:0")
	}
	filters := []string{}
	for _, f := range []string{s.Filter, TagFilter(s.Args)} {
		if f != "" {
			filters = append(filters, f)
		}
	}
	if len(filters) > 0 {
		args = append(args, "-vf", strings.Join(filters, ","))
	}
	args = append(args, s.Args...)
	args = append(args, FileURL(part))
	err = t.Run(ctx, Process{
		Args: args, Stdin: write,
		What: fmt.Sprintf("media: encoding %s failed", filepath.Base(s.Out)),
	})
	if err != nil {
		return err
	}
	return Publish(part, s.Out)
}

// TagFilter is a filter that marks pictures with the colour tags among output arguments,
// or "" if those name none. ffmpeg from 7.1 on takes primaries and transfer from the
// pictures alone, and converts pictures without a range or a matrix to the ones named.
func TagFilter(args []string) string {
	var list []string
	for _, tag := range [][2]string{{"range", "-color_range"}, {"colorspace", "-colorspace"}, {"color_primaries", "-color_primaries"}, {"color_trc", "-color_trc"}} {
		for i := len(args) - 2; i >= 0; i-- {
			if args[i] == tag[1] {
				value := args[i+1]
				if value == "rgb" {
					value = "gbr" // the filter's word for it
				}
				list = append(list, tag[0]+"="+value)
				break
			}
		}
	}
	if list == nil {
		return ""
	}
	return "setparams=" + strings.Join(list, ":")
}
