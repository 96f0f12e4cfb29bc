package render

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"image/png"
	"path/filepath"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// jpegQuality leaves no blocks to be seen at full size.
const jpegQuality = 93

// IsPicture reports whether a name ends like a picture that can be written.
func IsPicture(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".png", ".jpg", ".jpeg":
		return true
	}
	return false
}

// pictureFor turns a PNG into what the name's ending asks for.
func pictureFor(name string, b []byte) ([]byte, error) {
	if strings.EqualFold(filepath.Ext(name), ".png") {
		return b, nil
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("render: %w", err)
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: jpegQuality}); err != nil {
		return nil, fmt.Errorf("render: %w", err)
	}
	return out.Bytes(), nil
}

// WritePreview writes a preview's picture as the name's ending asks for, and makes the
// output folder if it is to lie there.
func WritePreview(f *comparison.File, name string, png []byte) error {
	picture, err := pictureFor(name, png)
	if err != nil {
		return err
	}
	return WritePicture(f, name, picture)
}

// WritePicture writes a picture; it never overwrites an input.
func WritePicture(f *comparison.File, name string, picture []byte) error {
	if filepath.Dir(name) == filepath.Clean(f.Output.Folder) {
		if err := makeFolder(f); err != nil {
			return err
		}
	}
	all, _ := pick(f, nil)
	if record.Overwrites(name, f, all...) {
		return &finding.Error{Msg: fmt.Sprintf("the picture %s would overwrite an input", name),
			Hint: "choose another name"}
	}
	return scratch.WriteBytes(name, picture)
}
