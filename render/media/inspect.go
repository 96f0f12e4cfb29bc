package media

import (
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// decodeTrouble is a line of ffmpeg's log that a decoder writes about damaged
// data. A decoder then makes up what it lacks, and no frame is missing.
var decodeTrouble = regexp.MustCompile(`^\[[a-z0-9_]+ @ [^]]*\] \[(error|fatal|warning)\]|corrupt decoded frame|Error while decoding`)

// innocent are lines of the same kind that say nothing about the pictures. FFV1 is
// an encoder of ours as well, which warns; its decoder's complaints are errors.
var innocent = regexp.MustCompile(`^\[ffv1 @ [^]]*\] \[warning\]|\[(aac|mp3|opus|vorbis|ac3|eac3|flac|pcm_\w+|mp4|matroska|mov,\S*|matroska,webm|mpegts|libx264|swscaler|auto_\w+|Parsed_\w+|fps\w*|null|rawvideo|image2pipe)( @|@)|deprecated pixel format|No accelerated colorspace`)

func isDecodeTrouble(line string) bool {
	return decodeTrouble.MatchString(line) && !innocent.MatchString(line)
}

// inspect decodes a leg's stretch once more, one frame at a time, and says
// whether the decoder complained within it. It is run only when the log of a
// finished clip holds complaints: a decoder that starts in the middle of a
// stream may complain about frames that the scene does not show, and the two
// cannot be told apart afterwards.
func (t *Tools) inspect(ctx context.Context, l Leg, p Plan, at seek) error {
	args := append([]string{"-hide_banner", "-v", "level+info", "-nostats", "-nostdin", "-copyts", "-threads", "1"}, t.inputArgs(l.Capture, at)...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn",
		"-vf", fmt.Sprintf("%s,trim=end_pts=%d,showinfo", l.Capture.stampChain(), p.Last()+1),
		"-fps_mode", "passthrough", "-f", "null", "-")
	// The last frame that came out; before the first one nothing is in the scene.
	var last int64
	var seen, bad bool
	var where int64
	var words string
	err := t.run(ctx, process{
		program: t.FFmpeg, args: args, what: fmt.Sprintf("media: decoding %s failed", l.Capture.Path),
		line: func(line string) {
			if m := anyPTS.FindStringSubmatch(line); m != nil {
				if n, err := strconv.ParseInt(m[1], 10, 64); err == nil {
					last, seen = n, true
				}
				return
			}
			if !bad && seen && last >= p.first-1 && last < p.Last() && isDecodeTrouble(line) {
				bad, where, words = true, last+1, line
			}
		},
	})
	if err != nil {
		return err
	}
	if bad {
		return &Error{
			Msg: fmt.Sprintf("media: capture %s is damaged near its frame %d (%.2f s), within the scene: the decoder had to make up pictures",
				l.Name, where, l.Capture.Rate.TimeOf(where).Seconds()),
			Hint: "play the capture at that place; copy it again, or choose another stretch",
			Log:  strings.TrimSpace(words),
		}
	}
	return nil
}

var anyPTS = regexp.MustCompile(`showinfo.*\] n: *\d+ pts: *(-?\d+) `)
