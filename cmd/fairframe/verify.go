package main

import (
	"context"
	"encoding/json"
	"fairframe/render/record"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/pflag"
)

func verifyCommand() command {
	return command{
		name: "verify", operands: "CLIP [FILE]",
		short: "tells whether a clip is what the files at hand would produce",
		long: `Compares CLIP, or a reel, with the comparison file FILE and all that it names: the
program's and ffmpeg's versions, each setting of the scene, and the captures, logs and
fonts by their digests (of captures, size and that of the first and last MiB). It goes
by the record that the clip carries, or that manifest.json keeps of it, and tells by the
manifest whether picture or sound were changed since. The manifest is looked for beside
the clip, then in FILE's output folder. Without FILE the manifest says where the
comparison file is; else it is looked for beside the clip and in the folder above.

Each finding is one of:
  same     as it was
  differs  another one would be made now, or the clip was changed
  unknown  it cannot be told
  note     worth knowing: it differs and changes nothing, or is damage that was tolerated
Nothing is decoded. A record can be forged; the manifest in your own hands cannot.
The exit code is 0 when all is the same, and 1 when anything differs or is unknown.

--format json writes {"version": 1, "clip", "comparison", "scenes": ["id"], "result":
"same", "differs" or "unknown", "findings": [{"scene", "what", "verdict", "was", "is",
"words"}]}; scene is null but in a reel, was and is are null where there is none.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			format := choice(flags, "format", "format", "of the result: text or json", "text", "json")
			return func(ctx context.Context, e *env, args []string) error {
				file := ""
				switch len(args) {
				case 0:
					return usagef("", "clip is missing")
				case 1:
				case 2:
					file = args[1]
				default:
					return usagef("quote names that hold spaces",
						"a clip and a comparison file were expected, %d names were given", len(args))
				}
				t, err := e.tools()
				if err != nil {
					return err
				}
				v, err := record.Verify(ctx, t, args[0], file)
				if err != nil {
					return err
				}
				if *format == "json" {
					err = writeVerifyJSON(e.stdout, v)
				} else {
					err = writeVerifyText(e.stdout, v)
				}
				if err == nil && v.Result() != record.Same {
					return errReported
				}
				return err
			}
		},
	}
}

// writeVerifyText lists what is not the same, and counts the rest.
func writeVerifyText(w io.Writer, v *record.Verification) error {
	what := "scene " + v.Scenes[0]
	if len(v.Scenes) > 1 {
		what = "reel of the scenes " + strings.Join(v.Scenes, ", ")
	}
	fmt.Fprintf(w, "%s: %s of %s\n", visible(v.Clip), visible(what), visible(v.Comparison))
	same := 0
	for _, f := range v.Findings {
		if f.Verdict == record.Same && f.What != "clip" {
			same++
			continue
		}
		scene := ""
		if f.Scene != "" {
			scene = f.Scene + ": "
		}
		fmt.Fprintf(w, "%-8s %s\n",
			f.Verdict, visible(fmt.Sprintf("%s%s: %s", scene, f.What, findingWords(f))))
	}
	fmt.Fprintf(w, "%-8s %d others: versions, settings and files\n", record.Same, same)
	_, err := fmt.Fprintln(w, map[record.Verdict]string{
		record.Same:    "The clip is what these files produce.",
		record.Differs: "The clip is not what these files would produce.",
		record.Unknown: "As far as can be told, the clip is what these files produce.",
	}[v.Result()])
	return err
}

// findingWords tells a finding in words. Digests say nothing to a reader.
func findingWords(f record.Compared) string {
	if f.Words != "" && (len(f.Was) == 64 || len(f.Is) == 64 || f.Was+f.Is == "") {
		return f.Words
	}
	value := func(s string) string {
		if s == "" {
			return "not set"
		}
		return s
	}
	text := fmt.Sprintf("was %s, is %s", value(f.Was), value(f.Is))
	if f.Words != "" {
		text += " (" + f.Words + ")"
	}
	return text
}

// verifyJSON is the shape of verify --format json, version 1.
type verifyJSON struct {
	Version    int                 `json:"version"`
	Clip       string              `json:"clip"`
	Comparison string              `json:"comparison"`
	Scenes     []string            `json:"scenes"`
	Result     record.Verdict      `json:"result"`
	Findings   []verifyFindingJSON `json:"findings"`
}

type verifyFindingJSON struct {
	Scene   *string        `json:"scene"`
	What    string         `json:"what"`
	Verdict record.Verdict `json:"verdict"`
	Was     *string        `json:"was"`
	Is      *string        `json:"is"`
	Words   string         `json:"words"`
}

func writeVerifyJSON(w io.Writer, v *record.Verification) error {
	doc := verifyJSON{Version: 1, Clip: v.Clip, Comparison: v.Comparison, Scenes: v.Scenes,
		Result: v.Result(), Findings: []verifyFindingJSON{}}
	for _, f := range v.Findings {
		doc.Findings = append(doc.Findings,
			verifyFindingJSON{orNull(f.Scene), f.What, f.Verdict, orNull(f.Was), orNull(f.Is), f.Words})
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(doc)
}
