package record

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// Verdict is what is known of one thing that a clip was made from.
type Verdict string

// Verdicts.
const (
	Same    Verdict = "same"
	Differs Verdict = "differs"
	Unknown Verdict = "unknown" // it cannot be told
	Remark  Verdict = "note"    // worth knowing, and no other clip would be made for it
)

// Compared tells of one thing then and now.
type Compared struct {
	Scene   string // which scene's; "" where there is one only, and for the clip as a whole
	What    string
	Verdict Verdict
	Was, Is string // "": there is none
	Words   string // more about it; may be empty
}

// Verification says whether a clip is what the files at hand would produce.
type Verification struct {
	Clip, Comparison string
	Scenes           []string // one, or those of a reel
	Findings         []Compared
}

// Result is the worst of the findings: Differs, Unknown or Same.
func (v *Verification) Result() Verdict {
	result := Same
	for _, f := range v.Findings {
		switch {
		case f.Verdict == Differs:
			return Differs
		case f.Verdict == Unknown:
			result = Unknown
		}
	}
	return result
}

func (v *Verification) add(f Compared) { v.Findings = append(v.Findings, f) }

// compare adds a finding about two values that should be the same.
func (v *Verification) compare(scene, what, was, is string) {
	f := Compared{Scene: scene, What: what, Verdict: Same, Was: was, Is: is}
	if was != is {
		f.Verdict = Differs
	}
	v.add(f)
}

// Verify compares a clip with the files that it was made from. It goes by the
// record that the clip carries, or else by the manifest's, and tells by the
// manifest's digests whether the clip was changed afterwards. The manifest is
// looked for beside the clip, then in the comparison file's output folder. file
// names the comparison file; "" lets the manifest tell, or looks for the recorded
// name beside the clip and in the folder above.
func Verify(ctx context.Context, tools *media.Tools, clip, file string) (*Verification, error) {
	info, err := os.Stat(clip)
	if err != nil {
		return nil, &finding.Error{Msg: fmt.Sprintf("clip %s cannot be read: %v", clip, scratch.Cause(err)),
			Hint: "check the path"}
	}
	beside, err := OpenManifest(filepath.Join(filepath.Dir(clip), ManifestName))
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		// A folder of pictures is a clip if the manifest says so.
		if beside.find(clip, "") == nil {
			return nil, &finding.Error{Msg: fmt.Sprintf("clip %s is a folder that no manifest knows", clip),
				Hint: "name one clip"}
		}
	}
	digest, err := DigestOfOutput(clip)
	if err != nil {
		return nil, err
	}
	records, carried, err := recordsOf(ctx, tools, clip, beside.find(clip, digest))
	if err != nil {
		return nil, err
	}
	if file == "" {
		if file, err = comparisonOf(clip, records, beside); err != nil {
			return nil, err
		}
	}
	f, err := comparison.Read(file)
	if err != nil {
		return nil, err
	}
	known := beside.find(clip, digest)
	if known == nil {
		other, err := OpenManifest(filepath.Join(f.Output.Folder, ManifestName))
		if err != nil {
			return nil, err
		}
		if known = other.find(clip, digest); known == nil && len(records) == 1 {
			known = other.scene(records[0].Scene)
		}
	}
	if len(records) == 0 {
		if known == nil || len(known.records) == 0 {
			return nil, &finding.Error{Msg: fmt.Sprintf(
				"%s has no record of how it was made, and no manifest knows it", clip),
				Hint: "keep manifest.json beside the clips; another program that rewrites a clip may " +
					"remove its record"}
		}
		records = known.records
	}
	v := &Verification{Clip: clip, Comparison: file}
	for _, r := range records {
		v.Scenes = append(v.Scenes, r.Scene)
	}
	if err := v.integrity(ctx, tools, clip, digest, known, carried); err != nil {
		return nil, err
	}
	ffmpeg, err := tools.Version(ctx)
	if err != nil {
		return nil, err
	}
	var files Files
	for _, r := range records {
		scene := ""
		if len(records) > 1 {
			scene = r.Scene
		}
		v.damage(r, scene)
		if err := v.against(&files, f, r, ffmpeg, scene); err != nil {
			return nil, err
		}
	}
	return v, nil
}

// recordsOf returns the record that a clip carries, or those of a reel's clips;
// none if it carries none. carried is their text.
func recordsOf(ctx context.Context, tools *media.Tools, clip string,
	known *recorded) (list []Record, carried string, err error) {
	carried, err = deliver.Record(ctx, tools, clip)
	if err != nil {
		if ctx.Err() == nil && known != nil && len(known.records) > 0 {
			return nil, "", nil // of a kind that no tag can be read of
		}
		return nil, "", err
	}
	if carried == "" {
		return nil, "", nil
	}
	list, err = readRecords(clip, carried)
	return list, carried, err
}

// readRecords reads what a clip or a reel carries: one record, or one of each of
// its clips.
func readRecords(clip, carried string) ([]Record, error) {
	var reel ReelRecord
	var one Record
	err := errors.Join(json.Unmarshal([]byte(carried), &reel), json.Unmarshal([]byte(carried), &one))
	switch {
	case err != nil:
		return nil, &finding.Error{Msg: fmt.Sprintf("the record in %s cannot be read: %v", clip, err),
			Hint: "another program may have cut it short"}
	case one.Version != version:
		return nil, &finding.Error{Msg: fmt.Sprintf("the record in %s has version %d, this program reads %d",
			clip, one.Version, version), Hint: "use the program that made the clip, or a newer one"}
	case len(reel.Reel) > 0:
		return reel.Reel, nil
	case one.Scene == "":
		return nil, &finding.Error{Msg: fmt.Sprintf("the record in %s names no scene", clip)}
	}
	return []Record{one}, nil
}

// comparisonOf finds the comparison file of a clip.
func comparisonOf(clip string, records []Record, m *Manifest) (string, error) {
	folder := filepath.Dir(clip)
	var tried []string
	if m.Relative != "" {
		tried = append(tried, filepath.Join(folder, filepath.FromSlash(m.Relative)))
	}
	for _, r := range records[:min(len(records), 1)] {
		if name := filepath.Base(filepath.FromSlash(r.Comparison)); name != "." &&
			name != string(filepath.Separator) {
			tried = append(tried, filepath.Join(folder, name), filepath.Join(folder, "..", name))
		}
	}
	for _, path := range tried {
		if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
			return path, nil
		}
	}
	if len(tried) == 0 {
		return "", &finding.Error{Msg: fmt.Sprintf(
			"%s has no record of how it was made, and no manifest beside it knows it", clip),
			Hint: "name the comparison file after the clip; keep manifest.json beside the clips"}
	}
	return "", &finding.Error{Msg: fmt.Sprintf("the comparison file of %s is not at %s",
		clip, strings.Join(slices.Compact(tried), " or ")), Hint: "name it after the clip"}
}

// integrity tells whether the clip was changed since it was made.
func (v *Verification) integrity(ctx context.Context, tools *media.Tools, clip, digest string,
	known *recorded, carried string) error {
	f := Compared{What: "clip", Was: "", Is: digest}
	switch {
	case known == nil:
		f.Verdict = Unknown
		f.Words = "no manifest knows it, so nothing tells whether it was changed"
	case known.digest == digest:
		f.Verdict, f.Was, f.Words = Same, known.digest, "unchanged since it was made"
	default:
		f.Was = known.digest
		now, err := deliver.ReadDigests(ctx, tools, clip)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil || known.streams.Video == "":
			f.Verdict, f.Words = Differs, "the file was changed since it was made"
		case now == known.streams:
			f.Verdict, f.Words = Remark, "the file was rewritten; its encoded picture and sound are unchanged"
			moved, err := known.timing(ctx, tools, clip)
			if err != nil {
				return err
			}
			if moved != "" {
				f.Verdict, f.Words =
					Differs, "its encoded picture and sound are unchanged, but not the times at "+
						"which they are shown: "+moved
			}
		case now.Video == known.streams.Video && now.Sound == "":
			f.Verdict, f.Words = Differs, "its sound was removed; its picture is unchanged"
		case now.Video == known.streams.Video:
			f.Verdict, f.Words = Differs, "its sound was changed; its picture is unchanged"
		default:
			f.Verdict, f.Words =
				Differs, "its picture is not the one that was made: it was edited, encoded again, or "+
					"rendered another time"
		}
	}
	v.add(f)
	if known != nil && carried != "" && known.carried != "" && known.carried != carried {
		v.add(Compared{What: "record", Verdict: Differs,
			Words: "the record in the clip is not the one in the manifest"})
	}
	return nil
}

// against compares a record with what would be recorded now.
func (v *Verification) against(known *Files, file *comparison.File, was Record, ffmpeg, scene string) error {
	s, err := file.Scene(was.Scene)
	if err != nil {
		v.add(Compared{Scene: scene, What: "scene " + was.Scene, Verdict: Differs,
			Words: "the comparison file has no such scene"})
		return nil
	}
	is, err := Of(known, file, s, ffmpeg, LeaveOut)
	if err != nil {
		return err
	}
	v.compare(scene, "program", was.Program, is.Program)
	if was.Build != is.Build {
		v.compare(scene, "build of the program", was.Build, is.Build)
	}
	v.compare(scene, "ffmpeg", was.FFmpeg, is.FFmpeg)

	sources := map[string]Source{}
	for _, one := range is.Sources {
		sources[one.Role] = one
	}
	samePath := map[string]bool{} // by setting: another name for the same content
	for _, then := range was.Sources {
		now, ok := sources[then.Role]
		delete(sources, then.Role)
		f := Compared{Scene: scene, What: then.Role, Verdict: Same, Was: then.identity(), Is: now.identity()}
		switch {
		case !ok:
			f.Verdict, f.Is, f.Words = Differs, "", then.File+" is not there"
		case then.identity() != now.identity() && then.Bytes != now.Bytes:
			f.Verdict, f.Words = Differs, fmt.Sprintf("%s has %d bytes, and had %d",
				now.File, now.Bytes, then.Bytes)
		case then.identity() != now.identity():
			f.Verdict, f.Words = Differs, now.File+" has other content"
		default:
			samePath[then.setting()] = true
		}
		v.add(f)
	}
	for _, role := range slices.Sorted(maps.Keys(sources)) {
		v.add(Compared{Scene: scene, What: role, Verdict: Differs, Is: sources[role].identity(),
			Words: sources[role].File + " had no part in the clip"})
	}

	names := map[string]bool{}
	for name := range was.Settings {
		names[name] = true
	}
	for name := range is.Settings {
		names[name] = true
	}
	changed := 0
	for _, name := range slices.Sorted(maps.Keys(names)) {
		then, now := was.Settings[name], is.Settings[name]
		f := Compared{Scene: scene, What: "setting " + name, Verdict: Same, Was: then, Is: now}
		if then != now {
			f.Verdict = Differs
			changed++
			if samePath[name] && then != "" && now != "" {
				f.Verdict, f.Words = Remark, "another name, the same content"
				changed--
			}
		}
		v.add(f)
	}
	f := Compared{Scene: scene, What: "comparison file", Verdict: Same, Was: was.SHA256, Is: is.SHA256}
	if was.SHA256 != is.SHA256 {
		f.Verdict, f.Words = Remark, "the file has changed, but nothing about this scene"
		if changed > 0 {
			f.Words = "the file has changed"
		}
	}
	v.add(f)
	return nil
}

// damage adds the damage that a clip shows, which its scene tolerated.
func (v *Verification) damage(was Record, scene string) {
	for _, t := range was.Tolerated {
		v.add(Compared{Scene: scene, What: "tolerated", Verdict: Remark, Words: t.String()})
	}
}

// identity is what tells a source from another one.
func (s Source) identity() string {
	if s.SHA256 != "" {
		return s.SHA256
	}
	return s.Ends
}

// setting is the name of the setting that names the source's file.
func (s Source) setting() string {
	kind, key, _ := strings.Cut(s.Role, " ")
	switch kind {
	case "capture":
		return "captures." + key + ".video"
	case "pacing":
		return "captures." + key + ".pacing.file"
	}
	return map[string]string{"text": "fonts.1", "bold": "fonts.2"}[key]
}

// recorded is what a manifest knows of a clip or a reel.
type recorded struct {
	digest  string
	streams deliver.Digests
	records []Record
	carried string // the record as the clip carries it
	output  Output
}

// timing tells in words how a clip's stamps differ from what was made; "" if they
// do not.
func (k *recorded) timing(ctx context.Context, tools *media.Tools, clip string) (string, error) {
	rate, err := pacing.ParseRate(k.output.Rate)
	if err != nil {
		return "", fmt.Errorf("record: manifest: %w", err)
	}
	return deliver.Timing(ctx, tools, clip, rate, k.output.Frames, k.output.Sound)
}

// find returns what is known of a file: by its name, as seen from the manifest's
// folder, or by its content.
func (m *Manifest) find(clip, digest string) *recorded {
	name := m.NameOf(clip)
	by := func(match func(Output) bool) *recorded {
		for _, e := range m.Scenes {
			if match(e.Output) {
				return e.recorded()
			}
		}
		for _, r := range m.Reels {
			if match(r.Output) {
				return &recorded{output: r.Output, digest: r.Output.SHA256,
					streams: deliver.Digests{Video: r.Output.VideoMD5, Sound: r.Output.SoundMD5},
					records: r.Record.Reel, carried: r.Record.String()}
			}
		}
		return nil
	}
	if known := by(func(o Output) bool { return o.File == name }); known != nil {
		return known
	}
	return by(func(o Output) bool { return digest != "" && o.SHA256 == digest })
}

func (m *Manifest) scene(id string) *recorded {
	if e, ok := m.Scenes[id]; ok {
		return e.recorded()
	}
	return nil
}

func (e Entry) recorded() *recorded {
	r := &recorded{output: e.Output, digest: e.Output.SHA256,
		streams: deliver.Digests{Video: e.Output.VideoMD5, Sound: e.Output.SoundMD5}}
	if e.Record != nil {
		r.records, r.carried = []Record{*e.Record}, e.Record.String()
	}
	return r
}

func sameFolder(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}
