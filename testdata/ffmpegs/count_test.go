package main

import (
	"strings"
	"testing"
)

// The events are those that go doc test2json lists.
func TestCount(t *testing.T) {
	const said = `{"Action":"run","Package":"p","Test":"TestA"}
{"Action":"run","Package":"p","Test":"TestA/one"}
{"Action":"pass","Package":"p","Test":"TestA/one"}
{"Action":"pass","Package":"p","Test":"TestA"}
{"Action":"run","Package":"p","Test":"TestB"}
{"Action":"output","Package":"p","Test":"TestB","Output":"    b_test.go:7: it is wrong\n"}
{"Action":"fail","Package":"p","Test":"TestB"}
{"Action":"output","Package":"p","Test":"TestC","Output":"    c_test.go:12: needs strace\n"}
{"Action":"skip","Package":"p","Test":"TestC"}
{"Action":"fail","Package":"p"}
{"Action":"output","Package":"q","Output":"panic: gone\n"}
{"Action":"fail","Package":"q"}
{"Action":"pass","Package":"r"}
`
	r := row{release: "sid", version: "9.0.2"}
	var to strings.Builder
	err := r.count(strings.NewReader(said), &to)
	if err != nil {
		t.Fatal(err)
	}
	if r.passed != 2 || r.failed != 2 || r.skipped["p TestC"] != "needs strace" || len(r.skipped) != 1 {
		t.Errorf("%+v", r)
	}
	if want := "FAIL sid: p TestB\n    b_test.go:7: it is wrong\nFAIL sid: q \npanic: gone\n"; to.String() != want {
		t.Errorf("printed %q, want %q", to.String(), want)
	}
	var table strings.Builder
	rows := []row{r, {release: "trixie", left: "it needs root"}}
	printTable(&table, rows)
	const want = `left out in sid: p TestC: needs strace

release    ffmpeg    passed  failed  left out
sid        9.0.2          2       2         1
trixie     left out: it needs root
`
	if table.String() != want {
		t.Errorf("printed\n%s\nwant\n%s", table.String(), want)
	}
	if exitCode(rows) != 1 || exitCode(rows[1:]) != 3 || exitCode(nil) != 0 {
		t.Error("wrong exit codes")
	}
}
