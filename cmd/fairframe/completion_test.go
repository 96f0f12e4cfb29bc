package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const completionFile = `captures:
  alder: {video: a.mkv, name: Alder}
  birch: {video: b.mkv}
defaults: {captures: [alder, birch], start: 0s, length: 1s, deck: {place: none}}
scenes:
  - {id: ridge, caption: The north ridge}
  - {id: wood}
`

func TestCompletions(t *testing.T) {
	file := filepath.Join(t.TempDir(), "c.yaml")
	if err := os.WriteFile(file, []byte(completionFile), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		words []string
		want  string
	}{
		{[]string{"re"}, "render"},
		{[]string{"help", "ver"}, "verify version"},
		{[]string{"completion", ""}, "bash zsh fish powershell"},
		{[]string{"render", file, "--scene", ""}, "ridge wood"},
		{[]string{"render", "-s", `""`, file, "-s", "w"}, "wood"},
		{[]string{"render", "--scene", "r", file}, ""}, // a file's name is due
		{[]string{"render", "-q", file, "--scene", "r"}, "ridge"},
		{[]string{"batch", file, "--only", "wood,"}, "wood,ridge wood,wood"},
		{[]string{"preview", file, "--pane", ""}, "alder birch"},
		{[]string{"figures", file, "--format=c"}, "--format=csv"},
		{[]string{"align", "--by", "p"}, "picture"},
		{[]string{"demo", "--si"}, "--size"},
		{[]string{"render", ""}, ""},
		{[]string{"render", file + ".gone", "--scene", ""}, ""},
		{[]string{"nonsense", ""}, ""},
	} {
		var got []string
		for _, one := range completions(c.words) {
			word, _, _ := strings.Cut(one, "\t")
			got = append(got, word)
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%q: %q, want %q", c.words, got, c.want)
		}
	}
}

// flagLine is a line of help that explains a flag.
var flagLine = regexp.MustCompile(`^ +(?:-\w, )?--([a-z][a-z-]*) `)

// Every command and every flag of one is offered.
func TestCompletionIsWhole(t *testing.T) {
	all := strings.Join(completions([]string{""}), "\n")
	for _, c := range commands() {
		if !strings.Contains(all, c.name+"\t"+c.short) {
			t.Errorf("%s is not offered", c.name)
		}
		offered := strings.Join(completions([]string{c.name, "--"}), "\n") + "\n"
		for _, line := range strings.Split(helpOf(t, c.name), "\n") {
			flag := flagLine.FindStringSubmatch(line)
			if flag == nil {
				continue
			}
			if name := flag[1]; !strings.Contains(offered, "--"+name+"\t") {
				t.Errorf("%s: --%s is not offered", c.name, name)
			}
		}
	}
}

// The scripts in the shells themselves, where these are.
func TestCompletionScripts(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "c.yaml"), []byte(completionFile), 0o644); err != nil {
		t.Fatal(err)
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(program, filepath.Join(dir, "fairframe")); err != nil {
		t.Skipf("left out: no symbolic links: %v", err)
	}
	for shell, c := range map[string]struct {
		flag, script string
		want         []string
	}{
		"bash": {"--norc", `. <(fairframe completion bash)
try() { COMP_LINE=$1 COMP_POINT=${#1} COMP_WORDS=("${@:2}"); COMP_CWORD=$(($# - 2)); _fairframe; printf '<%s>' "${COMPREPLY[@]}"; echo; }
try 'fairframe re' fairframe re
try 'fairframe render c.yaml --scene ' fairframe render c.yaml --scene ''
try 'fairframe figures x --format=c' fairframe figures x --format = c
try 'fairframe figures x --format=' fairframe figures x --format =
try 'fairframe render ' fairframe render ''`,
			[]string{"<render>", "<ridge><wood>", "<csv>", "<table><csv><json><markdown>", "<>"}},
		"zsh": {"-f", `compdef() { :; }; _describe() { print -r -- "<${(@)found}>"; }; _files() { print "<files>"; }
source <(fairframe completion zsh)
try() { words=("$@"); CURRENT=$#; _fairframe; }
try fairframe re
try fairframe render c.yaml --scene ''
try fairframe figures x --format=c
try fairframe render ''`,
			[]string{"<render:renders one scene>", "<ridge:The north ridge wood>", "<--format=csv>", "<files>"}},
		"fish": {"--no-config", `fairframe completion fish | source
for line in 'fairframe re' 'fairframe render c.yaml --scene ' 'fairframe figures x --format=c' 'fairframe render '
    echo '<'(string join -- ' ' (complete -C $line | string replace -r '\t.*' ''))'>'
end`,
			[]string{"<render>", "<ridge wood>", "<--format=csv>", "<c.yaml fairframe>"}},
	} {
		t.Run(shell, func(t *testing.T) {
			if _, err := exec.LookPath(shell); err != nil {
				t.Skipf("left out: %s is not installed", shell)
			}
			cmd := exec.CommandContext(t.Context(), shell, c.flag, "-c", c.script)
			cmd.Dir = dir
			cmd.Env = append(slices.DeleteFunc(os.Environ(), func(v string) bool { return strings.HasPrefix(v, "PATH=") }),
				"PATH="+dir+string(os.PathListSeparator)+os.Getenv("PATH"), "HOME="+dir)
			out, err := cmd.CombinedOutput()
			if got := strings.Split(strings.TrimSpace(string(out)), "\n"); err != nil || !slices.Equal(got, c.want) {
				t.Errorf("%v:\n%s\nwant %q", err, out, c.want)
			}
		})
	}
}
