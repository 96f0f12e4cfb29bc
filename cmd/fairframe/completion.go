package main

import (
	"context"
	"embed"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"fairframe/render/comparison"
)

//go:embed completion
var completionScripts embed.FS

// completionFiles holds the script of each shell.
var completionFiles = []struct{ shell, file string }{
	{"bash", "bash.sh"}, {"zsh", "zsh.sh"}, {"fish", "fish.fish"}, {"powershell", "powershell.ps1"},
}

func completionShells() []string {
	var shells []string
	for _, c := range completionFiles {
		shells = append(shells, c.shell)
	}
	return shells
}

func completionCommand() command {
	return command{
		name: "completion", operands: "SHELL", short: "prints the script that lets a shell complete commands",
		long: `SHELL is ` + strings.Join(completionShells(), ", ") + `. The shell then completes commands, flags, the
words that flags take, and the scenes and captures of the comparison file on the line.

  bash        fairframe completion bash > ~/.local/share/bash-completion/completions/fairframe
  zsh         fairframe completion zsh > "${fpath[1]}/_fairframe"
  fish        fairframe completion fish > ~/.config/fish/completions/fairframe.fish
  powershell  fairframe completion powershell | Out-String | Invoke-Expression`,
		setup: func(*pflag.FlagSet) func(context.Context, *env, []string) error {
			return func(_ context.Context, e *env, args []string) error {
				if len(args) != 1 {
					return usagef("the shells are: "+strings.Join(completionShells(), ", "),
						"one shell was expected, %d were given", len(args))
				}
				for _, c := range completionFiles {
					if c.shell == args[0] {
						script, err := completionScripts.ReadFile("completion/" + c.file)
						if err == nil {
							_, err = e.stdout.Write(script)
						}
						return err
					}
				}
				return oneOf("shell", args[0], completionShells()...)
			}
		},
	}
}

// completeWord is how the scripts ask for completions: what follows are the words of
// the command line after the program's name, the last one unfinished.
const completeWord = "__complete"

// Annotations of flags, which completion reads.
const (
	takesWords = "words" // the words that a flag takes
	takesKeys  = "keys"  // of what in the comparison file: scenes or captures
)

// choice declares a flag that takes one of the words, the first unless set. Any other
// is refused when flags are read; what names it in the error.
func choice(flags *pflag.FlagSet, name, what, usage string, words ...string) *string {
	value := flags.String(name, words[0], usage)
	_ = flags.SetAnnotation(name, takesWords, append([]string{what}, words...))
	return value
}

// checkChoices refuses words that flags do not take.
func checkChoices(flags *pflag.FlagSet) (err error) {
	flags.VisitAll(func(f *pflag.Flag) {
		if list := f.Annotations[takesWords]; err == nil && len(list) > 0 {
			err = oneOf(list[0], f.Value.String(), list[1:]...)
		}
	})
	return err
}

// keysOf says that a flag takes keys of the comparison file.
func keysOf(flags *pflag.FlagSet, name, what string) {
	_ = flags.SetAnnotation(name, takesKeys, []string{what})
}

// complete prints what the last of the words may become, each with a description
// after a tab. It prints nothing where names of files are due.
func complete(w io.Writer, words []string) {
	for _, c := range completions(words) {
		fmt.Fprintln(w, visible(c))
	}
}

func completions(words []string) []string {
	if len(words) == 0 {
		words = []string{""}
	}
	last, before := words[len(words)-1], words[:len(words)-1]
	if last == `""` {
		last = "" // some versions of PowerShell cannot pass an empty word
	}
	var names, about []string
	for _, c := range commands() {
		names = append(names, c.name+"\t"+c.short)
	}
	for _, name := range topics() {
		title, _, _ := strings.Cut(topic(name), "\n")
		about = append(about, name+"\t"+strings.TrimPrefix(title, "# "))
	}
	if len(before) == 0 {
		return starting(last, append(names, "help\tshows a command or a topic of the manual",
			"version\tshows the program's version"))
	}
	switch before[0] {
	case "help":
		return starting(last, append(names, about...))
	case "completion":
		if strings.HasPrefix(last, "-") {
			break
		}
		return starting(last, completionShells())
	}
	c, err := find(before[0])
	if err != nil {
		return nil
	}
	flags, _ := new(env).flagsFor(c)
	if name, value, assigned := strings.Cut(last, "="); assigned && strings.HasPrefix(name, "--") {
		var list []string
		for _, one := range flagWords(flags, flags.Lookup(name[2:]), before, value) {
			list = append(list, name+"="+one)
		}
		return list
	}
	if f := waiting(flags, before[len(before)-1]); f != nil {
		return flagWords(flags, f, before, last)
	}
	if !strings.HasPrefix(last, "-") {
		return nil
	}
	var list []string
	flags.VisitAll(func(f *pflag.Flag) {
		usage, _, _ := strings.Cut(f.Usage, "\n")
		list = append(list, "--"+f.Name+"\t"+strings.ReplaceAll(usage, "`", ""))
	})
	return starting(last, list)
}

// waiting is the flag that a word leaves without its value, or nil.
func waiting(flags *pflag.FlagSet, word string) *pflag.Flag {
	var f *pflag.Flag
	switch {
	case strings.HasPrefix(word, "--"):
		f = flags.Lookup(word[2:])
	case len(word) == 2 && word[0] == '-':
		f = flags.ShorthandLookup(word[1:])
	}
	if f == nil || f.NoOptDefVal != "" {
		return nil
	}
	return f
}

// flagWords are the values of a flag that begin so.
func flagWords(flags *pflag.FlagSet, f *pflag.Flag, before []string, begin string) []string {
	if f == nil {
		return nil
	}
	if list := f.Annotations[takesWords]; len(list) > 0 {
		return starting(begin, list[1:])
	}
	keys := f.Annotations[takesKeys]
	if len(keys) == 0 {
		return nil
	}
	// A list is completed behind its last comma.
	done := begin[:strings.LastIndexByte(begin, ',')+1]
	var list []string
	for _, key := range fileKeys(flags, keys[0], before) {
		list = append(list, done+key)
	}
	return starting(begin, list)
}

// fileKeys are the keys of a comparison file that stands on the line.
func fileKeys(flags *pflag.FlagSet, what string, before []string) []string {
	for i, word := range before[1:] {
		if strings.HasPrefix(word, "-") || waiting(flags, before[i]) != nil {
			continue
		}
		file, err := comparison.Read(word)
		if err != nil {
			continue
		}
		var list []string
		if what == "captures" {
			for _, c := range file.Captures {
				list = append(list, c.Key+"\t"+c.Name)
			}
			return list
		}
		for _, s := range file.Scenes {
			list = append(list, s.ID+"\t"+s.Caption)
		}
		return list
	}
	return nil
}

// starting keeps the words that begin so.
func starting(begin string, list []string) []string {
	return slices.DeleteFunc(list, func(one string) bool { return !strings.HasPrefix(one, begin) })
}
