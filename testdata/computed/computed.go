// Package computed reads the tables beside it, for tests alone. They are worked out
// from a formula that each row names, by another program than this one, and published
// by nobody.
package computed

import (
	"embed"
	"testing"

	"fairframe/testdata/published"
)

//go:embed *.csv
var tables embed.FS

// Records returns a table's lines without its header.
func Records(t testing.TB, name string) [][]string {
	t.Helper()
	_, lines := published.Read(t, tables, name)
	return lines
}

// Rows returns a table's lines, each as a map from column to value.
func Rows(t testing.TB, name string) []map[string]string {
	t.Helper()
	return published.Named(published.Read(t, tables, name))
}
