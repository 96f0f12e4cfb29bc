package media

import (
	"fmt"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"fairframe/render/scratch"
)

// A folder of numbered pictures is one output: it is filled under a temporary
// name and appears under its own when it is complete.

// folderFor reserves a temporary folder beside out.
func folderFor(out string) (string, error) {
	dir, err := scratch.Mkdir(filepath.Dir(out), "."+shorten(filepath.Base(out))+".*.part")
	if err != nil {
		return "", &Error{Msg: "media: cannot write beside " + out, Err: err,
			Hint: "choose an output folder that exists and that you may write to"}
	}
	return dir, nil
}

// pictureForm are the names of the pictures in such a folder.
var pictureForm = regexp.MustCompile(`^frame-[0-9]{6}\.png$`)

// framesIn is the output name that makes ffmpeg number pictures in dir.
func framesIn(dir string) string {
	return fileURL(filepath.Join(strings.ReplaceAll(dir, "%", "%%"), "frame-%06d.png"))
}

// pictures returns the names of the pictures in a folder; an error if it holds
// anything else.
func pictures(dir string) ([]string, error) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("media: %w", err)
	}
	var names []string
	for _, e := range list {
		if !pictureForm.MatchString(e.Name()) || !e.Type().IsRegular() {
			return nil, &Error{Msg: fmt.Sprintf("media: the folder %s holds %s, which fairframe did not put there", dir, e.Name()),
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
		return &Error{Msg: fmt.Sprintf("media: %s is there already and is no folder of pictures", out), Hint: "choose another name for the output, or move it"}
	}
	_, err = pictures(out)
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
func (c *Clip) checkFolder(dir string) (Capture, error) {
	names, err := pictures(dir)
	if err != nil {
		return Capture{}, err
	}
	if int64(len(names)) != c.Total() {
		return Capture{}, fmt.Errorf("media: the folder has %d pictures instead of %d", len(names), c.Total())
	}
	for i, name := range names {
		if want := fmt.Sprintf("frame-%06d.png", i+1); name != want {
			return Capture{}, fmt.Errorf("media: the folder has %s where %s belongs", name, want)
		}
	}
	for _, name := range []string{names[0], names[len(names)-1]} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			return Capture{}, fmt.Errorf("media: %w", err)
		}
		config, err := png.DecodeConfig(f)
		f.Close()
		if err != nil || config.Width != c.Size.X || config.Height != c.Size.Y || config.ColorModel != color.NRGBAModel {
			return Capture{}, fmt.Errorf("media: picture %s is %dx%d instead of %v with alpha (%w)", name, config.Width, config.Height, c.Size, err)
		}
	}
	return Capture{Path: dir, Format: "image2", Codec: "png", PixFmt: "rgba", Size: c.Size, Rate: c.Rate, Frames: c.Total(), Colour: Colour{Matrix: "rgb", Full: true}}, nil
}
