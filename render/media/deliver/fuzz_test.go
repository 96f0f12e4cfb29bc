package deliver

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzRun reads any text as what ffmpeg says while it makes a clip: its log, in which
// hostile captures have a word, and its progress.
func FuzzRun(f *testing.F) {
	for _, text := range []string{
		"[fps@leg0 @ 0x5] [verbose] 60 frames in, 30 frames out; 30 frames dropped, 0 frames duplicated.\n",
		"frame=12\nprogress=continue\nframe=N/A\nframe= 99\nprogress=end\n",
		"[ebur128@meter @ 0x1] [info] Summary:\n\n  Integrated loudness:\n    I:         -23.0 LUFS\n",
		"corrupt decoded frame in stream 0\x00\xff\x1b[2J\n",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		watch := newWatcher(2)
		var loud loudnessLog
		for line := range strings.Lines(text) {
			line = strings.TrimRight(line, "\r\n")
			watch.line(line)
			loud.line(line)
		}
		if watch.audioError != "" && !utf8.ValidString(watch.audioError) {
			t.Errorf("words %q", watch.audioError)
		}
		var p lastProgress
		if err := p.read(strings.NewReader(text), nil); err != nil && !errors.Is(err, bufio.ErrTooLong) {
			t.Error(err)
		}
	})
}

// FuzzLoop reads any bytes as a GIF and as a WebP, which are read back by the
// project's own code.
func FuzzLoop(f *testing.F) {
	f.Add([]byte("GIF89a\x02\x00\x02\x00\x80\x00\x00\x00\x00\x00\xff\xff\xff!\xff\x0bNETSCAPE2.0\x03\x01\x00\x00\x00!\xf9\x04\x00\x02\x00\x00\x00,\x00\x00\x00\x00\x02\x00\x02\x00\x00\x02\x02\x84Q\x00;"))
	webp := append([]byte("RIFF\x00\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00"), make([]byte, 10)...)
	webp = append(webp, "ANMF\x10\x00\x00\x00"...)
	f.Add(append(webp, make([]byte, 16)...))
	f.Add(binary.LittleEndian.AppendUint32([]byte("RIFF\x00\x00\x00\x00WEBPANMF"), 0xffffffff))
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, read := range []func(*bufio.Reader) (loop, error){readGIF, readWebP} {
			l, err := read(bufio.NewReader(bytes.NewReader(b)))
			if err == nil && (l.length < 0 || len(l.stamps) > len(b)) {
				t.Errorf("%+v of %d bytes", l, len(b))
			}
		}
	})
}
