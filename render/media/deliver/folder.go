package deliver

import (
	"fmt"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// pictureForm are the names of the pictures in such a folder.
var pictureForm = regexp.MustCompile(`^frame-[0-9]{6}\.png$`)

// framesIn is the output name that makes ffmpeg number pictures in dir.
func framesIn(dir string) string {
	return media.FileURL(filepath.Join(strings.ReplaceAll(dir, "%", "%%"), "frame-%06d.png"))
}

// picturesIn returns the names of the pictures in a folder; an error if it holds
// anything else.
func picturesIn(dir string) ([]string, error) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("media: %w", err)
	}
	var names []string
	for _, e := range list {
		if !pictureForm.MatchString(e.Name()) || !e.Type().IsRegular() {
			return nil, &media.Error{Msg: fmt.Sprintf("media: the folder %s holds %s, which fairframe did not put there", dir, e.Name()),
				Hint: "choose another name for the output, or move that folder"}
		}
		names = append(names, e.Name())
	}
	return names, nil
}

// mayReplace returns an error unless out is free, or a folder of pictures.
func mayReplace(out string) error {
	info, err := os.Lstat(out)
	switch {
	case os.IsNotExist(err):
		return nil
	case err != nil:
		return fmt.Errorf("media: %w", err)
	case !info.IsDir():
		return &media.Error{Msg: fmt.Sprintf("media: %s is there already and is no folder of pictures", out), Hint: "choose another name for the output, or move it"}
	}
	_, err = picturesIn(out)
	return err
}

// publishFolder gives a finished folder its name. One that is in its place is
// moved aside first, and comes back if that fails.
func publishFolder(part, out string) error {
	if err := mayReplace(out); err != nil {
		return err
	}
	if err := os.Chmod(part, 0o755); err != nil {
		return fmt.Errorf("media: %w", err)
	}
	old := part + ".old"
	err := os.Rename(out, old)
	if err != nil && !os.IsNotExist(err) {
		return fmt.Errorf("media: %w", err)
	}
	had := err == nil
	if err := os.Rename(part, out); err != nil {
		if had {
			_ = os.Rename(old, out)
		}
		return fmt.Errorf("media: %w", err)
	}
	if had {
		return os.RemoveAll(old)
	}
	return nil
}

// checkFolder counts the finished pictures and looks at the first and the last.
func checkFolder(c *graph.Clip, dir string) (media.Capture, error) {
	names, err := picturesIn(dir)
	if err != nil {
		return media.Capture{}, err
	}
	if int64(len(names)) != c.Total() {
		return media.Capture{}, fmt.Errorf("media: the folder has %d pictures instead of %d", len(names), c.Total())
	}
	for i, name := range names {
		if want := fmt.Sprintf("frame-%06d.png", i+1); name != want {
			return media.Capture{}, fmt.Errorf("media: the folder has %s where %s belongs", name, want)
		}
	}
	for _, name := range []string{names[0], names[len(names)-1]} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			return media.Capture{}, fmt.Errorf("media: %w", err)
		}
		config, err := png.DecodeConfig(f)
		f.Close()
		if err != nil || config.Width != c.Size.X || config.Height != c.Size.Y || config.ColorModel != color.NRGBAModel {
			return media.Capture{}, fmt.Errorf("media: picture %s is %dx%d instead of %v with alpha (%w)", name, config.Width, config.Height, c.Size, err)
		}
	}
	return media.Capture{Path: dir, Format: "image2", Codec: "png", PixFmt: "rgba", Size: c.Size, Rate: c.Rate, Frames: c.Total(), Colour: media.Colour{Matrix: "rgb", Full: true}}, nil
}
