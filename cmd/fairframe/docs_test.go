package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"fairframe/render/comparison"
	"fairframe/render/media"
)

// document reads a file of the project, named from its top.
func document(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(string(b), "\r\n", "\n")
}

// blocks returns the code blocks of a kind in a document.
func blocks(text, kind string) []string {
	var list []string
	for _, m := range regexp.MustCompile("(?ms)^```"+kind+"\n(.*?)^```$").FindAllStringSubmatch(text, -1) {
		list = append(list, m[1])
	}
	return list
}

// TestReadmeCommands runs every fairframe command of the README and the manual, in
// their order, on a demo that is small instead of full.
func TestReadmeCommands(t *testing.T) {
	readme := manualText(t)
	t.Chdir(t.TempDir())
	ran := 0
	for _, block := range blocks(readme, "sh") {
		for _, line := range strings.Split(block, "\n") {
			line, _, _ = strings.Cut(line, "#")
			words := strings.Fields(line)
			if len(words) == 0 || words[0] != "fairframe" {
				continue
			}
			args := words[1:]
			if args[0] == "demo" {
				args = append(args, "--size", "320x180", "--length", "2s")
			}
			var out, errs strings.Builder
			if code := run(t.Context(), args, &out, &errs); code != exitDone || out.Len() == 0 {
				t.Errorf("%v: exit code %d\n%s%s", words, code, &out, &errs)
			}
			ran++
		}
	}
	if ran < 10 {
		t.Errorf("the README and the manual have %d commands only", ran)
	}
}

// TestReadmeFiles: the comparison files in the README and the manual are right as
// they stand, the files that README leads to exist, and it stays short.
func TestReadmeFiles(t *testing.T) {
	readme := manualText(t)
	if n := strings.Count(document(t, "README.md"), "\n"); n >= 150 {
		t.Errorf("the README has %d lines", n)
	}
	list := blocks(readme, "yaml")
	if len(list) == 0 {
		t.Error("the README has no comparison file")
	}
	for _, text := range list {
		if _, err := comparison.Parse("README.yaml", []byte(text)); err != nil {
			t.Errorf("%v in\n%s", err, text)
		}
	}
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		for _, m := range regexp.MustCompile(`\]\(([^)#:]+)\)`).FindAllStringSubmatch(document(t, name), -1) {
			if _, err := os.Stat(filepath.Join("..", "..", m[1])); err != nil {
				t.Errorf("%s leads nowhere: %v", name, err)
			}
		}
	}
	info, err := os.Stat("../../examples/frame.jpg")
	if err != nil || info.Size() >= 300_000 {
		t.Errorf("the README's picture: %v, %v", info, err)
	}
}

// TestReadmeVersions: README's table and check name the same releases of ffmpeg.
func TestReadmeVersions(t *testing.T) {
	var told []string
	for _, m := range regexp.MustCompile(`(?m)^\| (\d+\.\d+) \| (\d+\.\d+)\.\d+, `).FindAllStringSubmatch(document(t, "README.md"), -1) {
		if m[1] != m[2] {
			t.Errorf("release %s was tried with %s", m[1], m[2])
		}
		told = append(told, m[1])
	}
	if !slices.Equal(told, media.Tried()) {
		t.Errorf("README tells of %v, tried were %v", told, media.Tried())
	}
}

// TestReadmeIsComplete: it names every command, and with the manual every flag and
// every key.
func TestReadmeIsComplete(t *testing.T) {
	readme := manualText(t)
	for _, c := range commands() {
		if !regexp.MustCompile("(?m)^\\| `" + c.name + "[ `]").MatchString(document(t, "README.md")) {
			t.Errorf("the README lacks the command %s", c.name)
		}
		flagsOf(c).VisitAll(func(f *pflag.Flag) {
			if !regexp.MustCompile("--" + f.Name + `\b`).MatchString(readme) {
				t.Errorf("the README lacks the flag --%s of %s", f.Name, c.name)
			}
		})
	}
	for key := range keys(t) {
		if !regexp.MustCompile("(?m)^\\| (&nbsp; )?`" + key + "` \\|").MatchString(readme) {
			t.Errorf("the README does not explain the key %s", key)
		}
	}
}

// keys returns every key of a comparison file that does something.
func keys(t *testing.T) map[string]bool {
	t.Helper()
	var schema any
	if err := json.Unmarshal(comparison.Schema(), &schema); err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	var walk func(any)
	walk = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			if p, ok := v["properties"].(map[string]any); ok {
				for key := range p {
					found[key] = true
				}
			}
			for _, one := range v {
				walk(one)
			}
		case []any:
			for _, one := range v {
				walk(one)
			}
		}
	}
	walk(schema)
	if len(found) < 25 {
		t.Fatalf("the schema has %d keys only", len(found))
	}
	return found
}

// TestExample: the example holds every key, and renders.
func TestExample(t *testing.T) {
	text := document(t, "examples/comparison.yaml")
	for key := range keys(t) {
		if !regexp.MustCompile(`(?m)(^|[\s{-])`+key+`: `).MatchString(text) && !strings.Contains(text, " "+key+":\n") && !strings.Contains(text, "\n"+key+":\n") {
			t.Errorf("examples/comparison.yaml lacks the key %s", key)
		}
	}
	renderSmall(t, text, 7)
}

// renderSmall renders the scenes of an example, of which there are so many, with
// the captures of a small demo, and returns what is said on standard error.
func renderSmall(t *testing.T, text string, scenes int) string {
	t.Helper()
	dir := ownDemo(t)
	small := strings.Replace(text, "size: 1920x1080", "size: 640x360", 1)
	if small == text {
		t.Fatal("the size is written in another way")
	}
	file := filepath.Join(dir, "example.yaml")
	write(t, file, small)
	var out, errs strings.Builder
	if code := run(t.Context(), []string{"batch", file, "--quiet"}, &out, &errs); code != exitDone {
		t.Errorf("exit code %d\n%s%s", code, &out, &errs)
	}
	if n := strings.Count(out.String(), "  rendered  "); n != scenes {
		t.Errorf("%d scenes of %d were rendered\n%s%s", n, scenes, &out, &errs)
	}
	return errs.String()
}

// quickStart returns a shell and the script.
func quickStart(t *testing.T) (sh, script string) {
	t.Helper()
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("there is no POSIX shell here")
	}
	script, err = filepath.Abs("../../examples/quickstart.sh")
	if err != nil {
		t.Fatal(err)
	}
	return sh, script
}

// TestQuickStart runs the quick start as it is, on small captures.
func TestQuickStart(t *testing.T) {
	sh, script := quickStart(t)
	cmd := exec.Command(sh, script, "my demo")
	cmd.Dir = t.TempDir()
	cmd.Env = append(os.Environ(), "QUICKSTART_SIZE=320x180", "QUICKSTART_LENGTH=2s")
	var out, errs strings.Builder
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v\n%s%s", err, &out, &errs)
	}
	clip := filepath.Join(cmd.Dir, "my demo", "out", "forest.mp4")
	if _, err := os.Stat(clip); err != nil {
		t.Error(err)
	}
	if !strings.Contains(errs.String(), "The clip is ") || !strings.Contains(errs.String(), "my demo/out/forest.mp4") {
		t.Errorf("it does not say where the clip is:\n%s", &errs)
	}
}

// TestQuickStartWithoutFFmpeg: where nothing can be installed, it says how.
func TestQuickStartWithoutFFmpeg(t *testing.T) {
	sh, script := quickStart(t)
	// A PATH with what the script needs to get there, and nothing else.
	dir := t.TempDir()
	for _, name := range []string{"dirname", "id", "go"} {
		path, err := exec.LookPath(name)
		if err != nil {
			t.Skip(err)
		}
		if err := os.Symlink(path, filepath.Join(dir, name)); err != nil {
			t.Skip(err)
		}
	}
	cmd := exec.Command(sh, script)
	cmd.Dir = t.TempDir()
	cmd.Env = append(os.Environ(), "PATH="+dir)
	out, err := cmd.CombinedOutput()
	if err == nil || !strings.Contains(string(out), "error: ffmpeg and ffprobe are missing") || !strings.Contains(string(out), "hint: Linux: install the package ffmpeg; macOS: brew install ffmpeg; Windows: winget install ffmpeg") {
		t.Errorf("%v\n%s", err, out)
	}
	if list, _ := os.ReadDir(cmd.Dir); len(list) > 0 {
		t.Errorf("left behind: %v", list)
	}
}
