package comparison

import (
	"reflect"
	"testing"
)

// A key that stands one level too high or too low, or in another part of the file, is
// told where it belongs.
func TestBelongs(t *testing.T) {
	scene, inDeck, inOutput := reflect.TypeFor[Scene](), reflect.TypeFor[Deck](), reflect.TypeFor[Output]()
	for _, one := range []struct {
		at        reflect.Type
		key, want string
	}{
		{scene, "tread-span", "it belongs one level down, under deck:"},
		{scene, "magnify", "it belongs one level down, under window: or window: moves:"},
		{scene, "place", "it belongs one level down, under inset: or deck:"},
		{scene, "delivery", "it belongs under output:"},
		{scene, "raster", "it belongs under captures:"},
		{inDeck, "summary", "it belongs under scenes:"},
		{inDeck, "fonts", "it belongs at the top of the file, not indented"},
		{inOutput, "starts", "it belongs under captures: pacing:"},
		{reflect.TypeFor[File](), "folder", "it belongs one level down, under output:"},
		{scene, "soundtrack", ""},
	} {
		if got := belongs(one.at, one.key); got != one.want {
			t.Errorf("%s in %v: %q, want %q", one.key, one.at, got, one.want)
		}
	}
}
