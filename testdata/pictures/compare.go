package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"

	"fairframe/render/media"
)

// farthestCode is how far apart two codes of the same place may be, in the clip's own
// depth: versions of a scaler round differently.
const farthestCode = 1

// difference is what sets two clips apart.
type difference struct {
	codes, unequal int64
	farthest       int
	tags           string // "equal", or both
}

func (d difference) within(farthest int) bool {
	return d.codes > 0 && d.farthest <= farthest && d.tags == "equal"
}

// compare decodes two clips with one ffmpeg, so that only what is in them counts, and
// compares every code of every plane of every frame, and what they say of themselves.
func compare(ctx context.Context, tools *media.Tools, a, b string) (difference, error) {
	d := difference{tags: "equal"}
	var said [2]string
	for i, path := range []string{a, b} {
		out, err := exec.CommandContext(ctx, tools.FFprobe, "-v", "error", "-count_packets", "-select_streams", "v:0", "-show_entries",
			"stream=codec_name,width,height,pix_fmt,color_range,color_space,color_transfer,color_primaries,sample_aspect_ratio,r_frame_rate,nb_read_packets:stream_side_data",
			"-of", "default=nw=1", "file:"+path).Output()
		if err != nil {
			return d, fmt.Errorf("ffprobe: %w", err)
		}
		said[i] = strings.Join(strings.Fields(string(out)), " ")
	}
	if said[0] != said[1] {
		d.tags = fmt.Sprintf("%s, and %s", said[0], said[1])
	}
	deep := 1
	if strings.Contains(said[0], "10le") {
		deep = 2
	}
	ra, err := decode(ctx, tools, a)
	if err != nil {
		return d, err
	}
	defer ra.Close()
	rb, err := decode(ctx, tools, b)
	if err != nil {
		return d, err
	}
	defer rb.Close()
	return d, d.read(bufio.NewReaderSize(ra, 1<<16), bufio.NewReaderSize(rb, 1<<16), deep)
}

// read compares two streams of codes of so many bytes, least significant first.
func (d *difference) read(a, b io.Reader, bytes int) error {
	one := func(r io.Reader, buf []byte) (int, error) {
		_, err := io.ReadFull(r, buf)
		code := 0
		for i, v := range buf {
			code |= int(v) << (8 * i)
		}
		return code, err
	}
	bufA, bufB := make([]byte, bytes), make([]byte, bytes)
	for {
		x, errA := one(a, bufA)
		y, errB := one(b, bufB)
		switch {
		case errors.Is(errA, io.EOF) && errors.Is(errB, io.EOF):
			return nil
		case errA != nil || errB != nil:
			return fmt.Errorf("after %d codes: %w", d.codes, errors.Join(errA, errB))
		}
		d.codes++
		if x != y {
			d.unequal++
			d.farthest = max(d.farthest, x-y, y-x)
		}
	}
}

// stream is a decoder's output; Close ends the decoder.
type stream struct {
	io.Reader
	cmd *exec.Cmd
}

func (s stream) Close() error {
	if _, err := io.Copy(io.Discard, s.Reader); err != nil {
		return err
	}
	return s.cmd.Wait()
}

// decode streams a clip's codes as they are in it.
func decode(ctx context.Context, tools *media.Tools, path string) (stream, error) {
	cmd := exec.CommandContext(ctx, tools.FFmpeg, "-v", "error", "-nostdin", "-i", "file:"+path, "-map", "0:v:0", "-fps_mode", "passthrough", "-f", "rawvideo", "pipe:1")
	out, err := cmd.StdoutPipe()
	if err != nil {
		return stream{}, err
	}
	return stream{out, cmd}, cmd.Start()
}
