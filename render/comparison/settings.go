package comparison

import (
	"cmp"
	"fmt"
	"image"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"unicode"
)

// Settings returns everything in f that can change the clip of that scene, as
// Canonical does, by name: "length" is "8s", "captures.alder.window.magnify" is
// "3". Settings that are off or empty are not in it. Paths are as written. Of an
// absolute path only the file's name is shown, because the folders of a machine are
// private.
func (f *File) Settings(scene *Scene) map[string]string {
	list := map[string]string{}
	flatten(list, "", reflect.ValueOf(f.form(scene)), false)
	return list
}

// flatten adds the settings in v under a name. A value with its own text form is one
// setting.
func flatten(list map[string]string, name string, v reflect.Value, path bool) {
	if v.IsZero() {
		return
	}
	switch known := v.Interface().(type) {
	case image.Point:
		list[name] = fmt.Sprintf("%dx%d", known.X, known.Y)
		return
	case fmt.Stringer:
		list[name] = known.String()
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for _, field := range reflect.VisibleFields(v.Type()) {
			if field.Anonymous || !field.IsExported() || field.Name == "Key" || field.Tag.Get("json") == "-" {
				continue
			}
			within := name
			if len(field.Index) > 1 {
				within = v.Type().Field(field.Index[0]).Tag.Get("setting")
			}
			flatten(list, nameOf(within, field), v.FieldByIndex(field.Index), field.Tag.Get("path") != "")
		}
	case reflect.Pointer, reflect.Interface:
		flatten(list, name, v.Elem(), path)
	case reflect.Map:
		for _, k := range v.MapKeys() {
			flatten(list, name+"."+fmt.Sprint(k.Interface()), v.MapIndex(k), path)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			one := v.Index(i)
			flatten(list, name+"."+keyOf(one, i), one, path)
		}
		if order := keys(v); order != "" {
			list[name] = order
		}
	default:
		text := fmt.Sprint(v.Interface())
		if path {
			text = Portable(text)
		}
		list[name] = text
	}
}

// nameOf is the name of a field's settings: RateWindow within deck is
// deck.rate-window.
func nameOf(within string, field reflect.StructField) string {
	name := field.Tag.Get("setting")
	if name == "" {
		var b strings.Builder
		for i, r := range field.Name {
			if unicode.IsUpper(r) && i > 0 && !unicode.IsUpper(rune(field.Name[i-1])) {
				b.WriteByte('-')
			}
			b.WriteRune(unicode.ToLower(r))
		}
		name = b.String()
	}
	if within == "" {
		return name
	}
	return within + "." + name
}

// keyOf names an element of a list: by its key, or by its place from 1.
func keyOf(v reflect.Value, i int) string {
	if v.Kind() == reflect.Struct {
		if key := v.FieldByName("Key"); key.IsValid() && key.Kind() == reflect.String {
			return key.String()
		}
	}
	return fmt.Sprint(i + 1)
}

// keys is the order of a list whose elements have keys, "" of any other.
func keys(v reflect.Value) string {
	var list []string
	for i := range v.Len() {
		key := keyOf(v.Index(i), i)
		if key == fmt.Sprint(i+1) {
			return ""
		}
		list = append(list, key)
	}
	return strings.Join(list, ", ")
}

// Written returns the paths of a capture as they stand in the file; the log's is
// empty when there is none.
func (c *Capture) Written() (video, log string) { return c.video, cmp.Or(c.Pacing.file, c.Pacing.log) }

// Written returns the paths of the fonts as they stand in the file.
func (f *Fonts) Written() (text, bold string) { return f.text, f.bold }

var absoluteForm = regexp.MustCompile(`^([/\\~]|[A-Za-z]:)`)

// Portable returns a path as it was written in a comparison file, with forward
// slashes, or only the file's name of a path that is absolute on some system.
func Portable(written string) string {
	path := strings.ReplaceAll(filepath.ToSlash(written), `\`, "/")
	if absoluteForm.MatchString(written) {
		path = path[strings.LastIndexAny(path, "/:")+1:]
	}
	return path
}
