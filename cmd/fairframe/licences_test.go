package main

import (
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
)

const licencesHead = `# Licences of what the program carries

fairframe itself has the MIT licence, see [LICENSE](../../../LICENSE). A program that is built from it
contains the fonts and modules below. This list is written by
` + "`go test ./cmd/fairframe -run Licences -update`" + ` from the modules' own files.
`

// licenceFiles are the names of files that state a licence or a notice.
var licenceFiles = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents|ftl)(\.txt|\.md)?$`)

// TestLicences: the help states the licence of every module that is linked in, on any
// system, and of the fonts, in the words of their own files. With -update it writes it.
func TestLicences(t *testing.T) {
	folders := linkedModules(t)
	type entry struct {
		names, owners []string
		body          string
	}
	found := map[string]*entry{} // by the words without the copyright lines
	var order []*entry
	add := func(name, text string) {
		owner, body := parted(text)
		words := strings.Join(strings.Fields(body), " ")
		e := found[words]
		if e == nil {
			e = &entry{body: body}
			found[words] = e
			order = append(order, e)
		}
		if !slices.Contains(e.names, name) {
			e.names = append(e.names, name)
		}
		for _, line := range owner {
			if !slices.Contains(e.owners, line) {
				e.owners = append(e.owners, line)
			}
		}
	}
	add("the fonts B612 and B612 Mono", document(t, "fonts/OFL.txt"))
	for _, name := range slices.Sorted(maps.Keys(folders)) {
		texts := licenceTexts(t, folders[name])
		if len(texts) == 0 {
			t.Errorf("%s has no licence", name)
		}
		for _, file := range slices.Sorted(maps.Keys(texts)) {
			text := texts[file]
			if strings.HasPrefix(file, "THIRD") {
				add(name+" ("+filepath.Base(file)+")", text)
				continue
			}
			add(name, text)
			if name == "golang.org/x/text" { // of the same authors, under the same licence
				add("Go's standard library", text)
			}
		}
	}
	text := licencesHead
	for i, e := range order {
		text += fmt.Sprintf("\n## Licence or notice %d\n\nFor %s:\n\n```text\n", i+1, strings.Join(e.names, ", "))
		for _, line := range e.owners {
			text += line + "\n"
		}
		if len(e.owners) > 0 {
			text += "\n"
		}
		text += e.body + "\n```\n"
	}
	if text == topic("licences") {
		return
	}
	if !*update {
		t.Fatal("help/licences.md differs from the modules' files; run go test ./cmd/fairframe -run Licences -update")
	}
	if err := os.WriteFile("help/licences.md", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestLicencesOfThisProgram: each module that the linker put into this very binary,
// but those of its tests, is named in the help.
func TestLicencesOfThisProgram(t *testing.T) {
	info, ok := debug.ReadBuildInfo()
	if !ok || len(info.Deps) < 10 {
		t.Skip("this binary does not say what is linked in")
	}
	forTests := []string{"github.com/rogpeppe/go-internal", "github.com/santhosh-tekuri/jsonschema/v6", "golang.org/x/tools"}
	for _, m := range info.Deps {
		if !slices.Contains(forTests, m.Path) && !strings.Contains(topic("licences"), m.Path) {
			t.Errorf("help licences lacks %s", m.Path)
		}
	}
}

// linkedModules returns the folder of each module of the program on any system.
func linkedModules(t *testing.T) map[string]string {
	t.Helper()
	folders := map[string]string{}
	for _, system := range []string{runtime.GOOS, "linux", "darwin", "windows"} {
		cmd := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Dir}}{{end}}{{end}}", ".")
		cmd.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("go list: %v", err)
		}
		for _, line := range strings.Fields(strings.ReplaceAll(string(out), "\t", "=")) {
			name, folder, _ := strings.Cut(line, "=")
			folders[name] = folder
		}
	}
	if len(folders) < 10 {
		t.Fatalf("only %d modules: %v", len(folders), folders)
	}
	return folders
}

// licenceTexts reads, by their files, the licences and notices at the top of a module, and those of
// parts that it took from others.
func licenceTexts(t *testing.T, folder string) map[string]string {
	t.Helper()
	texts := map[string]string{}
	for _, pattern := range []string{"*", "licenses/*", "THIRD_PARTY_LICENSES/*"} {
		files, err := filepath.Glob(filepath.Join(folder, filepath.FromSlash(pattern)))
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			info, err := os.Stat(file)
			if err != nil || info.IsDir() || !strings.HasPrefix(pattern, "THIRD") && !licenceFiles.MatchString(filepath.Base(file)) {
				continue
			}
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			texts[filepath.Join(filepath.Dir(pattern), filepath.Base(file))] = strings.ReplaceAll(string(b), "\r\n", "\n")
		}
	}
	return texts
}

var (
	copyrightLine = regexp.MustCompile(`^(Copyright|\(c\)|©) ?(\(c\)|©)? ?[0-9©(].*$`)
	emptyLines    = regexp.MustCompile(`\n{3,}`)
)

// parted returns the lines of a licence that say whose it is, and the rest, with lines
// that fit the help.
func parted(text string) (owners []string, body string) {
	var rest []string
	for _, line := range strings.Split(strings.ReplaceAll(text, "```", "'''"), "\n") {
		line = strings.TrimRight(line, " \t")
		switch trimmed := strings.TrimSpace(line); {
		case copyrightLine.MatchString(trimmed):
			owners = append(owners, wrap(trimmed, 76)...)
		case len([]rune(line)) > 76:
			rest = append(rest, wrap(trimmed, 76)...)
		default:
			rest = append(rest, line)
		}
	}
	return owners, emptyLines.ReplaceAllString(strings.Trim(strings.Join(rest, "\n"), "\n"), "\n\n")
}
