package media

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// EachPicture returns a reader of packed pictures of size bytes, which hands them
// over numbered from, from+1, …. The receiver may keep a picture if it puts another of
// that size in its place, to be filled next. An error from it ends the reading. What of
// is read is for messages.
func EachPicture(of string, size int, from int64, each func(n int64, picture *[]byte) error) func(io.Reader) error {
	return func(r io.Reader) error {
		buf := make([]byte, size)
		for n := from; ; n++ {
			switch _, err := io.ReadFull(r, buf[:size]); {
			case err == nil:
			case errors.Is(err, io.EOF):
				return nil
			default:
				return fmt.Errorf("media: decoding %s: frame %d: %w", of, n, err)
			}
			if err := each(n, &buf); err != nil {
				return err
			}
		}
	}
}

// eachMono returns a reader of a YUV4MPEG2 stream of grey pictures (its man page,
// yuv4mpeg(5), is the format's text) of size bytes, as eachPicture. ffmpeg writes
// such a stream with one copy of each picture less than a raw one.
func eachMono(of string, size int, from int64, each func(n int64, picture *[]byte) error) func(io.Reader) error {
	return func(r io.Reader) error {
		// The stream's own line, a byte at a time: nothing behind it may be taken.
		line := make([]byte, 0, 128)
		for len(line) == 0 || line[len(line)-1] != '\n' {
			var b [1]byte
			if _, err := io.ReadFull(r, b[:]); err != nil {
				if errors.Is(err, io.EOF) && len(line) == 0 {
					return nil // no picture was decoded
				}
				return fmt.Errorf("media: decoding %s: %w", of, err)
			}
			if line = append(line, b[0]); len(line) > 1<<12 {
				return fmt.Errorf("media: decoding %s: a stream without a first line", of)
			}
		}
		if !bytes.HasPrefix(line, []byte("YUV4MPEG2 ")) || !bytes.Contains(line, []byte(" Cmono")) {
			return fmt.Errorf("media: decoding %s: found %q in place of grey pictures", of, line)
		}
		picture := make([]byte, size)
		const mark = "FRAME\n"
		return EachPicture(of, len(mark), from, func(n int64, found *[]byte) error {
			if string(*found) != mark {
				return fmt.Errorf("media: decoding %s: frame %d: found %q in place of its mark", of, n, *found)
			}
			if _, err := io.ReadFull(r, picture[:size]); err != nil {
				if errors.Is(err, io.EOF) {
					err = io.ErrUnexpectedEOF
				}
				return fmt.Errorf("media: decoding %s: frame %d: %w", of, n, err)
			}
			return each(n, &picture)
		})(r)
	}
}

// SoundBlock is how many instants of sound are handed over at a time.
const SoundBlock = 4096

// EachSamples returns a reader of interleaved 32-bit floats, which hands over
// whole instants of so many channels: the same slice each time. Half an instant at
// the end is left out.
func EachSamples(of string, channels int, each func(samples []float32) error) func(io.Reader) error {
	return func(r io.Reader) error {
		instant := 4 * channels
		in := bufio.NewReaderSize(r, SoundBlock*instant)
		raw, samples := make([]byte, SoundBlock*instant), make([]float32, SoundBlock*channels)
		for {
			n, err := io.ReadFull(in, raw)
			n = n / instant * channels
			for i := range n {
				samples[i] = math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:]))
			}
			if n > 0 {
				if err := each(samples[:n]); err != nil {
					return err
				}
			}
			switch {
			case err == nil:
			case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
				return nil
			default:
				return fmt.Errorf("media: decoding the sound of %s: %w", of, err)
			}
		}
	}
}
