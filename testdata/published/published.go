// Package published reads the published tables beside it, for tests alone. The last
// columns of each table say where its values come from.
package published

import (
	"embed"
	"encoding/csv"
	"io/fs"
	"testing"
)

//go:embed *.csv
var tables embed.FS

// Records returns a table's lines without its header.
func Records(t testing.TB, name string) [][]string {
	t.Helper()
	_, lines := Read(t, tables, name)
	return lines
}

// Rows returns a table's lines, each as a map from column to value.
func Rows(t testing.TB, name string) []map[string]string {
	t.Helper()
	return Named(Read(t, tables, name))
}

// Named turns a table's lines into maps from column to value.
func Named(header []string, lines [][]string) []map[string]string {
	list := make([]map[string]string, len(lines))
	for i, line := range lines {
		list[i] = map[string]string{}
		for j, cell := range line {
			list[i][header[j]] = cell
		}
	}
	return list
}

// Read returns the header and the lines of a table in a folder.
func Read(t testing.TB, folder fs.FS, name string) (header []string, lines [][]string) {
	t.Helper()
	f, err := folder.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1 // some tables have no empty columns at the end
	all, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if len(all) < 2 {
		t.Fatalf("%s has no rows", name)
	}
	return all[0], all[1:]
}
