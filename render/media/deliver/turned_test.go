package deliver

import (
	"image"
	"io"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// TestTurnedCapture shows a capture that its display matrix turns by a quarter:
// it is as large as it is seen, and shown upright, whatever its size as coded.
func TestTurnedCapture(t *testing.T) {
	tools, dir := tools(t), t.TempDir()
	plain, turned := filepath.Join(dir, "plain.mp4"), filepath.Join(dir, "turned.mp4")
	size := image.Pt(180, 320)
	// Coded on its side: left half dark, right half bright.
	err := tools.Encode(t.Context(), media.EncodeSpec{Out: plain, Size: image.Pt(size.Y, size.X), PixFmt: "yuv420p", Rate: hz60,
		Args: []string{"-c:v", "libx264", "-preset", "ultrafast", "-f", "mp4"}}, func(w io.Writer) error {
		pic := make([]byte, size.X*size.Y*3/2)
		for i := range pic {
			pic[i] = 128
			if i < size.X*size.Y {
				pic[i] = byte(60 + 120*(i%size.Y/(size.Y/2)))
			}
		}
		for range 30 {
			if _, err := w.Write(pic); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	// ffmpeg 5.1 makes a display matrix of a tag, later ones of an option.
	var capture media.Capture
	for _, way := range [][2][]string{
		{nil, {"-metadata:s:v", "rotate=90"}},
		{{"-display_rotation:v:0", "90"}, nil},
	} {
		args := slices.Concat([]string{"-y", "-v", "level+error", "-nostdin"}, way[0], []string{"-i", "file:" + plain, "-c", "copy"}, way[1], []string{"-f", "mp4", "file:" + turned})
		if err = tools.Run(t.Context(), media.Process{Args: args}); err != nil {
			t.Fatal(err)
		}
		if capture, err = tools.Probe(t.Context(), turned); err != nil {
			t.Fatal(err)
		}
		if capture.Size == size {
			break
		}
	}
	if capture.Size != size {
		t.Fatalf("size %v", capture.Size)
	}
	clip := columns(t, size, hz60, 10, []media.Capture{capture}, []time.Duration{0}, centred)
	clip.Sound = graph.Sound{}
	out := filepath.Join(dir, "clip.mkv")
	done, err := Render(t.Context(), tools, clip, out, nil)
	if err != nil {
		t.Fatal(err)
	}
	made := done.Clip
	_, err = tools.DecodeVideo(t.Context(), made, media.Request{Count: -1}, func(_ int64, picture *[]byte) error {
		luma := *picture
		// Turned by a quarter, what was left and right is above and below.
		top, bottom := luma[40*size.X+90], luma[280*size.X+90]
		if d := int(top) - int(bottom); d > -80 && d < 80 || luma[40*size.X+20] != luma[40*size.X+160] {
			t.Errorf("%d above, %d below", top, bottom)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
