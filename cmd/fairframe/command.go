package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/pflag"

	"fairframe/render"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/scene"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitLater  = 75 // what failed may work next time; as EX_TEMPFAIL of BSD's sysexits.h
	exitUsage  = 2
)

// command is one of fairframe's commands.
type command struct {
	name     string
	operands string // as shown in the usage line
	short    string // one line
	long     string // what help adds; may be empty
	// setup declares the command's flags and returns what runs when they are
	// parsed.
	setup func(flags *pflag.FlagSet) func(ctx context.Context, e *env, args []string) error
}

// commands are listed in the order in which a newcomer meets them.
func commands() []command {
	return []command{demoCommand(), renderCommand(), previewCommand(), batchCommand(), measureCommand(), rasterCommand(),
		alignCommand(), figuresCommand(), checkCommand(), verifyCommand(), completionCommand(), versionCommand()}
}

// env is what every command works with.
type env struct {
	stdout, stderr io.Writer
	quiet, verbose bool
	ffmpeg         string
}

// usageError is a mistake in how the program was called: exit 2.
type usageError struct {
	msg  string
	hint string
}

func (e *usageError) Error() string { return e.msg }

func (e *usageError) Hints() []string {
	if e.hint == "" {
		return nil
	}
	return []string{e.hint}
}

func usagef(hint, format string, args ...any) error {
	return &usageError{fmt.Sprintf(format, args...), hint}
}

// errReported ends a command that has already said what went wrong.
var errReported = errors.New("failed")

// run is the program.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	e := &env{stdout: stdout, stderr: stderr}
	err := dispatch(ctx, e, args)
	switch {
	case err == nil:
		return exitDone
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, "error: interrupted; no unfinished file is left")
		if by := signalled(0); errors.As(context.Cause(ctx), &by) {
			return 128 + int(by) // as shells report it
		}
		return exitFailed
	case errors.Is(err, errReported):
		if passes(err) {
			return exitLater
		}
		return exitFailed
	}
	report(stderr, err)
	if usage := (*usageError)(nil); errors.As(err, &usage) {
		return exitUsage
	}
	if passes(err) {
		return exitLater
	}
	return exitFailed
}

// signalled is why the program ends early.
type signalled int

func (s signalled) Error() string { return fmt.Sprintf("ended by signal %d", int(s)) }

// passes reports whether what failed may work next time.
func passes(err error) bool {
	passing := (*finding.Passing)(nil)
	return errors.As(err, &passing) || errors.Is(err, syscall.ENOSPC)
}

func dispatch(ctx context.Context, e *env, args []string) error {
	if len(args) == 0 {
		help(e.stderr)
		return &usageError{msg: "no command given"}
	}
	name, rest := args[0], args[1:]
	switch name {
	case "help", "--help", "-h":
		if len(rest) == 0 {
			help(e.stdout)
			return nil
		}
		return helpOn(e, rest[0])
	case completeWord:
		complete(e.stdout, rest)
		return nil
	case "--version":
		name = "version"
	}
	c, err := find(name)
	if err != nil {
		return err
	}
	return execute(ctx, e, c, rest)
}

func find(name string) (command, error) {
	var names []string
	for _, c := range commands() {
		if c.name == name {
			return c, nil
		}
		names = append(names, c.name)
	}
	return command{}, oneOf("command", name, names...)
}

// oneOf makes sure that a word is one of the valid ones.
func oneOf(what, word string, valid ...string) error {
	if slices.Contains(valid, word) {
		return nil
	}
	return usagef(comparison.Suggest(word, valid, "the "+what+"s are"), "unknown %s %q", what, word)
}

// flagTime reads a time that a flag gives.
func flagTime(flag, text string) (comparison.Time, error) {
	t, err := comparison.ParseTime(text)
	if one := (*comparison.Error)(nil); errors.As(err, &one) {
		return t, usagef(one.Hint, "%s: %s", flag, one.Msg)
	}
	return t, err
}

// flagsFor declares the flags of a command and those of all commands, and returns
// what runs when they are parsed.
func (e *env) flagsFor(c command) (*pflag.FlagSet, func(context.Context, *env, []string) error) {
	flags := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	flags.SortFlags = false
	flags.SetOutput(io.Discard)
	flags.Usage = func() {}
	do := c.setup(flags)
	flags.BoolVarP(&e.quiet, "quiet", "q", false, "show no progress")
	flags.BoolVarP(&e.verbose, "verbose", "v", false, "show the ffmpeg commands that are run")
	flags.StringVar(&e.ffmpeg, "ffmpeg", "", "`PATH` of the ffmpeg to use (default: the first one found)")
	return flags, do
}

func execute(ctx context.Context, e *env, c command, args []string) error {
	flags, do := e.flagsFor(c)
	switch err := flags.Parse(args); {
	case errors.Is(err, pflag.ErrHelp):
		commandHelp(e.stdout, c, flags)
		if topic(c.name) != "" {
			fmt.Fprintf(e.stdout, "\n\"fairframe help %s\" tells more.\n", c.name)
		}
		return nil
	case err != nil:
		return usagef(flagHint(c, flags, err), "%v", err)
	}
	if err := checkChoices(flags); err != nil {
		return err
	}
	return do(ctx, e, flags.Args())
}

// flagHint says what to do about a flag that cannot be read.
func flagHint(c command, flags *pflag.FlagSet, err error) string {
	hint := "see: fairframe help " + c.name
	if unknown := (*pflag.NotExistError)(nil); errors.As(err, &unknown) &&
		len(unknown.GetSpecifiedName()) > 1 {
		var names []string
		flags.VisitAll(func(f *pflag.Flag) { names = append(names, "--"+f.Name) })
		hint = comparison.Suggest("--"+unknown.GetSpecifiedName(), names, "the flags are") + "; " + hint
	}
	return hint
}

func commandHelp(w io.Writer, c command, flags *pflag.FlagSet) {
	fmt.Fprintf(w, "%s: %s\n\nusage: fairframe %s %s\n", c.name, c.short, c.name, c.operands)
	if c.long != "" {
		fmt.Fprintf(w, "\n%s\n", strings.TrimSpace(c.long))
	}
	fmt.Fprintf(w, "\nflags:\n%s", flags.FlagUsages())
}

// oneFile returns the comparison file among the operands.
func oneFile(args []string, what string) (string, error) {
	switch len(args) {
	case 1:
		return args[0], nil
	case 0:
		return "", usagef("name it after the command", "%s is missing", what)
	}
	return "", usagef("quote names that hold spaces", "one %s was expected, %d were given", what, len(args))
}

// tools finds ffmpeg, and lets --verbose watch what is run.
func (e *env) tools() (*media.Tools, error) {
	t, err := media.Find(e.ffmpeg)
	if err != nil {
		return nil, err
	}
	if e.verbose {
		t.Trace = func(program string, args []string) {
			fmt.Fprintf(e.stderr, "run: %s %s\n", program, strings.Join(quoteAll(args), " "))
		}
	}
	return t, nil
}

// open reads a comparison file and finds the tools to render it.
func (e *env) open(path string) (*scene.Project, error) {
	t, err := e.tools()
	if err != nil {
		return nil, err
	}
	p, err := scene.Open(path, t)
	if err != nil {
		return nil, err
	}
	p.Logs.Measuring = func(capture string) (render.Progress, func()) {
		bar := e.progress("measuring "+capture, "frames")
		return func(done, total int64) { bar.update("", done, total) }, bar.done
	}
	return p, nil
}

// quoteAll makes arguments that a POSIX shell reads back as they are.
func quoteAll(args []string) []string {
	const plain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_=+:,./@%"
	out := make([]string, len(args))
	for i, a := range args {
		if a != "" && strings.Trim(a, plain) == "" {
			out[i] = a
			continue
		}
		out[i] = "'" + strings.ReplaceAll(a, "'", `'\''`) + "'"
	}
	return out
}

// warn prints what the user should know of a scene, each once.
func (e *env) warn(scene string, warnings []finding.Finding) {
	seen := map[string]bool{}
	for _, w := range finding.Warnings(warnings) {
		if !seen[w] {
			seen[w] = true
			line(e.stderr, "warning", scene+": "+w)
		}
	}
}
