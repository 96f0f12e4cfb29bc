package comparison

import (
	"reflect"
	"slices"
	"strings"
)

// belongs says where a key goes that does not go where it stands, in a mapping of
// type t: under one of the keys there, or elsewhere in the file. "" means that no
// place has such a key.
func belongs(t reflect.Type, key string) string {
	if under := placesOf(t, key, nil, nil); len(under) > 0 {
		parents := slices.Compact(under[:min(len(under), 2)])
		return "it belongs one level down, under " + strings.Join(parents, ": or ") + ":"
	}
	all := placesOf(reflect.TypeFor[document](), key, nil, nil)
	// What may be set once for all scenes is a scene's own first.
	slices.SortStableFunc(all, func(a, b string) int { return score(a) - score(b) })
	switch {
	case len(all) == 0:
		return ""
	case all[0] == "":
		return "it belongs at the top of the file, not indented"
	}
	return "it belongs under " + all[0] + ":"
}

func score(place string) int {
	n := strings.Count(place, ": ")
	if strings.HasPrefix(place, "defaults") {
		n += 100
	}
	return n
}

// placesOf returns the paths of the mappings, from t on, that have a key.
func placesOf(t reflect.Type, key string, path []string, within []reflect.Type) (list []string) {
	switch {
	case slices.Contains(within, t):
		return nil
	case t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Map:
		return placesOf(t.Elem(), key, path, within)
	case t.Kind() != reflect.Struct || !strings.HasSuffix(t.PkgPath(), "/comparison"):
		return nil
	}
	within = append(slices.Clone(within), t)
	for i := range t.NumField() {
		f := t.Field(i)
		own := f.Tag.Get("key")
		switch {
		case own == key:
			list = append(list, strings.Join(path, ": "))
		case own != "":
			list = append(list, placesOf(f.Type, key, append(slices.Clone(path), own), within)...)
		default: // what wraps a list, or one of several forms
			list = append(list, placesOf(f.Type, key, path, within)...)
		}
	}
	return list
}
