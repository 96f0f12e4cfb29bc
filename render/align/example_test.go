package align_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"fairframe/render/align"
	"fairframe/render/media"
)

// Two recordings of one moving pattern; the second one started half a second later.
func ExampleMatch() {
	ctx := context.Background()
	dir, err := os.MkdirTemp("", "align-example-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	tools, err := media.Find("")
	if err != nil {
		panic(err)
	}
	var tracks []*align.Track
	for _, from := range []string{"1", "1.5"} {
		capture := filepath.Join(dir, from+".mkv")
		// ffmpeg's life is the game: cells that never repeat within so short a time.
		cmd := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi",
			"-i", "life=s=160x90:rate=30:seed=7:ratio=0.3", "-ss", from, "-t", "8", "-c:v", "ffv1", capture)
		if out, err := cmd.CombinedOutput(); err != nil {
			panic(string(out))
		}
		c, err := tools.Probe(ctx, capture)
		if err != nil {
			panic(err)
		}
		track, err := align.Open(ctx, tools, c, align.Picture, 0, 0, nil)
		if err != nil {
			panic(err)
		}
		defer track.Close()
		tracks = append(tracks, track)
	}
	r, err := align.Match(ctx, tracks[0], tracks[1], align.Settings{By: align.Picture, Around: -1})
	if err != nil {
		panic(err)
	}
	fmt.Printf("what the first shows at 2.0 s, the second shows at %.1f s; reliable: %t\n", 2+r.Offset, r.Matched())
	// Output: what the first shows at 2.0 s, the second shows at 1.5 s; reliable: true
}
