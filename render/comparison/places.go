package comparison

import (
	"reflect"
	"slices"
	"strings"
)

// belongs says where a misplaced key, found in a mapping of type t, should be: under one
// of the keys there, or elsewhere in the file. "" means that no place has such a key.
func belongs(t reflect.Type, key string) string {
	under := placesOf(t, "", key, nil, nil)
	// A key of the type itself is one that is not allowed in this place.
	if under = slices.DeleteFunc(under, func(p string) bool { return p == "" }); len(under) > 0 {
		parents := slices.Compact(under[:min(len(under), 2)])
		return "it belongs one level down, under " + strings.Join(parents, ": or ") + ":"
	}
	all := placesOf(reflect.TypeFor[File](), "", key, nil, nil)
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
func placesOf(t reflect.Type, tag reflect.StructTag, key string, path []string, within []reflect.Type) (
	list []string) {
	switch {
	case slices.Contains(within, t):
		return nil
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Map:
		return placesOf(t.Elem(), tag, key, path, within)
	case t.Kind() != reflect.Struct || !strings.HasSuffix(t.PkgPath(), "/comparison"):
		return nil
	}
	within = append(slices.Clone(within), t)
	for _, form := range writtenAs(t) {
		for _, k := range keysOf(form, tag) {
			if k.key == key {
				list = append(list, strings.Join(path, ": "))
			} else {
				below := append(slices.Clone(path), k.key)
				list = append(list, placesOf(k.field.Type, k.field.Tag, key, below, within)...)
			}
		}
	}
	return list
}

// writtenAs returns the structs whose keys a value of type t is written with.
func writtenAs(t reflect.Type) []reflect.Type {
	switch t {
	case reflect.TypeFor[Source]():
		return []reflect.Type{reflect.TypeFor[logFormat](), reflect.TypeFor[measureKeys]()}
	case reflect.TypeFor[Mark]():
		return []reflect.Type{reflect.TypeFor[annotation]()}
	}
	return []reflect.Type{t}
}
