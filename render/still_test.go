package render

import (
	"bytes"
	"image"
	_ "image/jpeg"
	"image/png"
	"testing"
)

// TestPictureForKeepsThePicture: a JPEG has the PNG's size and nearly its
// colours, and a PNG is left as it is.
func TestPictureForKeepsThePicture(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 64, 48))
	for i := range img.Pix {
		img.Pix[i] = byte(200 - i%4*20)
	}
	for i := 3; i < len(img.Pix); i += 4 {
		img.Pix[i] = 255
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	if got, err := pictureFor("a.PNG", b.Bytes()); err != nil || !bytes.Equal(got, b.Bytes()) {
		t.Errorf("the PNG was changed (%v)", err)
	}
	jpg, err := pictureFor("a.jpg", b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	got, kind, err := image.Decode(bytes.NewReader(jpg))
	if err != nil || kind != "jpeg" || got.Bounds() != img.Bounds() {
		t.Fatalf("%s %v %v", kind, got.Bounds(), err)
	}
	r, g, bl, _ := got.At(20, 20).RGBA()
	for i, v := range []uint32{r, g, bl} {
		if d := int(v>>8) - int(img.Pix[i]); d < -4 || d > 4 {
			t.Errorf("channel %d is %d instead of %d", i, v>>8, img.Pix[i])
		}
	}
	if _, err := pictureFor("a.jpg", []byte("no picture")); err == nil {
		t.Error("nonsense became a JPEG")
	}
}
