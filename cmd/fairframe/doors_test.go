package main

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// door says which packages alone may import something in code that is not a
// test.
type door struct {
	of   func(path string) bool
	what string
	open []string
}

func only(path string) func(string) bool { return func(p string) bool { return p == path } }

func below(path string) func(string) bool {
	return func(p string) bool { return p == path || strings.HasPrefix(p, path+"/") }
}

const module = "fairframe"

var doors = []door{
	{below("github.com/fogleman/gg"), "gg", []string{"render/deck"}},
	{below("github.com/u2takey/ffmpeg-go"), "ffmpeg-go", []string{"render/media/graph"}},
	{only("os/exec"), "os/exec", []string{"render/media"}},
	{below("github.com/spf13/pflag"), "pflag", []string{"cmd/fairframe"}},
	{only("flag"), "flag", nil},
	{only("log"), "log", nil},
	{below("log/slog"), "log/slog", nil},
	{below("github.com/schollz/progressbar/v3"), "progressbar", []string{"cmd/fairframe"}},
	{only(module + "/render"), "render", []string{"cmd/fairframe"}},
	{only(module + "/render/media/deliver"), "render/media/deliver", []string{"render", "render/scene", "render/check",
		"render/figures", "render/record", "cmd/fairframe"}},
	{only(module + "/render/handoff"), "render/handoff", []string{"render"}},
	{only(module + "/render/figures"), "render/figures", []string{"cmd/fairframe"}},
	{only(module + "/render/check"), "render/check", []string{"render", "cmd/fairframe"}},
	{only(module + "/render/align"), "render/align", []string{"render/check", "cmd/fairframe"}},
	{only(module + "/render/raster"), "render/raster", []string{"cmd/fairframe"}},
	{only(module + "/render/drawing"), "render/drawing", []string{"render/align", "render/raster"}},
	{only(module + "/render/scene"), "render/scene", []string{"render", "render/figures", "render/check", "render/align",
		"render/handoff", "cmd/fairframe"}},
	{only(module + "/render/media/mediatest"), "mediatest, which serves tests only", nil},
}

// alone are the packages that import nothing of the project; true: and nothing
// but the standard library.
var alone = map[string]bool{"layout": true, "render/pacing": true, "fonts": false}

// source is one file that is not a test, on whatever system it is built.
type source struct {
	name    string
	imports []string
	tree    *ast.File
}

// packages returns the project's packages by folder, with all their files.
func packages(t *testing.T) map[string][]source {
	t.Helper()
	cmd := exec.Command("go", "list", "-e", "-json=Dir,ImportPath", "./...")
	cmd.Dir = filepath.Join("..", "..")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	all := map[string][]source{}
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p struct{ Dir, ImportPath string }
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		files, err := filepath.Glob(filepath.Join(p.Dir, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		folder := strings.TrimPrefix(p.ImportPath, module+"/")
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
			if err != nil {
				t.Fatal(err)
			}
			s := source{name: folder + "/" + filepath.Base(name), tree: f}
			for _, i := range f.Imports {
				path, err := strconv.Unquote(i.Path.Value)
				if err != nil {
					t.Fatal(err)
				}
				s.imports = append(s.imports, path)
			}
			all[folder] = append(all[folder], s)
		}
	}
	if len(all) < 10 {
		t.Fatalf("go list found %d packages only", len(all))
	}
	return all
}

// TestDoors keeps each dependency behind its one door, and the packages that
// stand alone alone.
func TestDoors(t *testing.T) {
	used := map[string]bool{}
	for folder, files := range packages(t) {
		for _, file := range files {
			for _, path := range file.imports {
				for _, d := range doors {
					if !d.of(path) {
						continue
					}
					if !slices.Contains(d.open, folder) {
						t.Errorf("%s imports %s, whose doors are %v", file.name, d.what, d.open)
					}
					used[d.what] = true
				}
				if path == "C" {
					t.Errorf("%s imports %s", file.name, path)
				}
				standardOnly, isAlone := alone[folder]
				first, _, _ := strings.Cut(path, "/")
				switch {
				case isAlone && first == module:
					t.Errorf("%s imports %s, but stands alone", file.name, path)
				case standardOnly && strings.Contains(first, "."):
					t.Errorf("%s imports %s, but makes do with the standard library", file.name, path)
				}
			}
		}
	}
	// A door to nothing is a misspelt one.
	for _, d := range doors {
		if len(d.open) > 0 && !used[d.what] {
			t.Errorf("nothing imports %s any more", d.what)
		}
	}
}

// TestOnlyTheCommandPrints: no other package writes to the terminal, ends the
// process, or runs code and keeps state behind its callers' backs.
func TestOnlyTheCommandPrints(t *testing.T) {
	for _, files := range packages(t) {
		for _, file := range files {
			ast.Inspect(file.tree, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.SelectorExpr:
					pkg, ok := n.X.(*ast.Ident)
					if !ok {
						break
					}
					switch name := pkg.Name + "." + n.Sel.Name; name {
					case "fmt.Print", "fmt.Printf", "fmt.Println":
						t.Errorf("%s calls %s", file.name, name)
					case "os.Stdin", "os.Stdout", "os.Stderr", "os.Exit", "os.Args":
						if file.name != "cmd/fairframe/main.go" {
							t.Errorf("%s uses %s", file.name, name)
						}
					}
				case *ast.CallExpr:
					if f, ok := n.Fun.(*ast.Ident); ok && (f.Name == "print" || f.Name == "println") {
						t.Errorf("%s calls %s", file.name, f.Name)
					}
				case *ast.FuncDecl:
					if n.Name.Name == "init" && n.Recv == nil {
						t.Errorf("%s has an init function", file.name)
					}
				}
				return true
			})
		}
	}
}

// TestTablesAreRead: a test names each published and each computed table.
func TestTablesAreRead(t *testing.T) {
	root := filepath.Join("..", "..")
	var tests strings.Builder
	for _, folder := range []string{"layout", "fonts", "render", "cmd"} {
		err := filepath.WalkDir(filepath.Join(root, folder), func(path string, _ fs.DirEntry, err error) error {
			if err != nil || !strings.HasSuffix(path, "_test.go") {
				return err
			}
			text, err := os.ReadFile(path)
			tests.Write(text)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	tables, err := filepath.Glob(filepath.Join(root, "testdata", "[cp]*", "[0-9]*"))
	if err != nil || len(tables) < 20 {
		t.Fatalf("%d tables, %v", len(tables), err)
	}
	for _, table := range tables {
		if !strings.Contains(tests.String(), filepath.Base(table)) {
			t.Errorf("no test reads %s", table)
		}
	}
}

// TestTopLevel: a newcomer finds what is promised, and nothing else.
func TestTopLevel(t *testing.T) {
	root := filepath.Join("..", "..")
	var names []string
	if out, err := exec.Command("git", "-C", root, "-c", "safe.directory=*", "ls-files").Output(); err == nil && len(out) > 0 {
		for _, name := range strings.Split(strings.TrimSpace(string(out)), "\n") {
			first, _, _ := strings.Cut(strings.Trim(name, `"`), "/")
			names = append(names, first)
		}
	} else {
		list, err := os.ReadDir(root) // no clone: all that is there
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range list {
			names = append(names, e.Name())
		}
	}
	allowed := []string{"cmd", "render", "layout", "fonts", "testdata", "examples", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE"}
	for _, name := range names {
		if !strings.HasPrefix(name, ".") && !slices.Contains(allowed, name) {
			t.Errorf("%s has no place at the top level", name)
		}
	}
	for _, name := range allowed {
		if _, err := os.Stat(filepath.Join(root, name)); err != nil {
			t.Error(err)
		}
	}
}
