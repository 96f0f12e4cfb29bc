package render

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
)

// delivery is what the file's output asks for. Its errors stand where the file
// says what cannot be had.
func (p *Project) delivery() (graph.Delivery, error) {
	o := p.File.Output
	d, err := deliver.Deliver(deliver.DeliverySpec{Delivery: o.Delivery, Codec: o.Codec, Transfer: o.Transfer,
		Encoder: o.Encoder, Quality: o.Quality, Effort: o.Effort, Options: o.FFmpeg})
	if wrong := (*deliver.DeliveryError)(nil); errors.As(err, &wrong) {
		return d, p.File.Mistake(wrong.Key, wrong.Msg, wrong.Hint)
	}
	return d, err
}

// trials remember which encoders of graphics cards work here.
type trials struct {
	mu    sync.Mutex
	known map[string]tried // by the encoder asked for
}

type tried struct {
	delivery graph.Delivery
	fallback string
}

// usable returns the delivery as this machine can make it, and a warning where that
// is with another encoder than the one asked for. Each is tried once.
func (p *Project) usable(ctx context.Context, d graph.Delivery) (graph.Delivery, string, error) {
	p.trials.mu.Lock()
	defer p.trials.mu.Unlock()
	if t, ok := p.trials.known[d.EncoderName()]; ok {
		return t.delivery, t.fallback, nil
	}
	able, fallback, err := deliver.UsableDelivery(ctx, p.Tools, d)
	if err != nil {
		return d, "", err
	}
	if p.trials.known == nil {
		p.trials.known = map[string]tried{}
	}
	p.trials.known[d.EncoderName()] = tried{able, fallback}
	return able, fallback, nil
}

// onDisk measures an output, which may be a folder of pictures: all its bytes,
// and when it last changed.
func onDisk(out string) (bytes int64, modified time.Time, err error) {
	err = filepath.WalkDir(out, func(path string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		if !info.IsDir() {
			bytes += info.Size()
		}
		if info.ModTime().After(modified) {
			modified = info.ModTime()
		}
		return nil
	})
	return bytes, modified, err
}

// digestOfOutput is the digest of an output: of a folder, that of its pictures'
// names and digests in their order.
func digestOfOutput(out string) (string, error) {
	info, err := os.Stat(out)
	if err != nil || !info.IsDir() {
		digest, derr := digestOf(out)
		return digest, errors.Join(err, derr)
	}
	list, err := os.ReadDir(out)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, e := range list {
		digest, err := digestOf(filepath.Join(out, e.Name()))
		if err != nil {
			return "", err
		}
		if _, err := io.WriteString(h, fmt.Sprintf("%s  %s\n", digest, e.Name())); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
