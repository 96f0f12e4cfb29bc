package render

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairframe/render/check"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

// footage makes a short capture from ffmpeg's own sources.
func footage(t testing.TB, path string, args ...string) {
	t.Helper()
	args = append([]string{"-v", "error", "-nostdin", "-y"}, append(args, "file:"+path)...)
	if out, err := exec.Command(tools(t).FFmpeg, args...).CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg %q: %v\n%s", args, err, out)
	}
}

// bt709 are the arguments that make and tag lossless BT.709 in limited range.
var bt709 = []string{"-c:v", "ffv1", "-g", "1", "-pix_fmt", "yuv420p", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"}

// moving is a source of moving pictures, 64x36 at 60 Hz, of limited range and
// without codes near its ends.
const moving = "nullsrc=s=64x36:r=60:d=1.5,format=yuv420p,geq=lum='30+mod(X*5+Y*3+N*7\\,170)':cb=128:cr=128"

// lavfi are the arguments for pictures from a source, which carry the colour tags among
// the others from the start: what is not tagged some versions of ffmpeg convert.
func lavfi(source string, more ...string) []string {
	if tags := media.TagFilter(more); tags != "" {
		source += "," + tags
	}
	return append([]string{"-f", "lavfi", "-i", source}, more...)
}

func join(lists ...[]string) []string {
	var all []string
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// told leaves out what every check of these captures says.
func told(found []finding.Finding) []string {
	var list []string
	for _, f := range found {
		switch f.What {
		case "this machine", "brightness and saturation at matching moments", "the picture is enlarged":
			continue
		}
		list = append(list, f.String())
	}
	return list
}

// TestCheckFindsWhatMisleads: each capture has one fault, or none, and the exact
// findings are those and no others. All are in one file, two to a scene; the first
// of a scene is heard.
func TestCheckFindsWhatMisleads(t *testing.T) {
	if testing.Short() {
		t.Skip("makes and decodes a dozen captures")
	}
	lum := func(codes string) string {
		return "nullsrc=s=64x36:r=60:d=1.2,format=yuv420p,geq=lum='" + codes + "':cb=128:cr=128"
	}
	sound := func(source string) []string {
		return join(lavfi(moving+","+media.TagFilter(bt709), "-f", "lavfi", "-i", source, "-c:a", "pcm_s16le"), bt709)
	}
	silent := "misleads: scene KEY, capture KEY, at 0.00 s: the sound is silent (RMS level -inf dBFS, peak -inf dBFS)"
	tests := []struct {
		key  string
		args []string
		want string // with KEY for the capture; its scene is called like its first capture
	}{
		{"good", sound("sine=440:r=48000:d=1.5,aformat=channel_layouts=stereo"), ""},
		// The codes of full range, tagged as limited, and the other way round. Of 256
		// codes 16 (6.3 %) are below 16, 20 (7.8 %) above 235; the sampled pictures do
		// not hold all equally often.
		{"fullaslimited", lavfi(lum("mod(X*5+Y*3+N*7\\,256)"), bt709...),
			"misleads: scene SCENE, capture KEY, at 0.00 s: taken as limited range, its codes look like full range (5.9 % of the luma codes are below 16, 7.6 % above 235)"},
		{"silent", sound("anullsrc=r=48000:cl=stereo:d=1.5"), silent},
		{"limitedasfull", lavfi(lum("16+mod(X*5+Y*3+N*7\\,220)"), join(bt709, []string{"-color_range", "pc"})...),
			"misleads: scene SCENE, capture KEY, at 0.00 s: taken as full range, its codes look like limited range (all luma codes lie within 16 to 235, the darkest at 16, the brightest at 235)"},
		{"nosound", lavfi(moving, bt709...), "misleads: scene KEY, capture KEY: the capture has no sound (the scene's audio: uses it)"},
		// AVI has no room for tags; ffmpeg from 7.1 on fills in a range wherever there is.
		{"untagged", lavfi(moving, "-c:v", "ffv1", "-pix_fmt", "yuv420p", "-f", "avi"),
			"note: capture KEY: its colours are not tagged (no range and matrix; taken as bt601, limited range)"},
		// 100 Hz for a second at 3 times full scale: 200 flat tops.
		{"clipped", sound("aevalsrc='clip(3*sin(2*PI*100*t)\\,-1\\,1)|0.1*sin(2*PI*333*t)':s=48000:d=1.5"),
			"misleads: scene KEY, capture KEY, at 0.00 s: the sound is clipped (200 flat tops of 3 or more samples at full scale)"},
		{"bars", lavfi(moving+",crop=64:24,pad=64:36:0:4:color=black", bt709...),
			"misleads: scene SCENE, capture KEY, at 0.00 s: black bars in the picture (left 0, right 0, top 4, bottom 8 pixels of 64x36 are black in all sampled pictures)"},
		// Amplitudes 0.5 and -0.4: in mono 0.05 of an RMS of 0.4528, 19.1 dB less.
		{"phase", sound("aevalsrc='0.5*sin(2*PI*441*t)|-0.4*sin(2*PI*441*t)':s=48000:d=1.5"),
			"misleads: scene KEY, capture KEY, at 0.00 s: left and right are out of phase (correlation -1.00; heard in mono the sound loses 19.1 dB)"},
		{"black", lavfi(lum("if(lt(N\\,30)\\,16\\,30+mod(X*5+Y*3+N*7\\,170))"), bt709...),
			"misleads: scene SCENE, capture KEY, at 0.00 s: the scene overlaps black (black for 0.50 s, from 0.00 s of the scene)"},
		{"half", sound("sine=440:r=48000:d=0.5"),
			"misleads: scene KEY, capture KEY, at 0.00 s: the sound is shorter than the scene (0.50 s of 1.00 s)"},
		// Frames 30 to 33 never reached the file, whose stamps are whole
		// milliseconds: 34/60 s less 29/60 s is 83.3 ms, stamped 567 and 483.
		{"gap", lavfi(moving, join([]string{"-vf", "select='not(between(n,30,33))'", "-fps_mode", "passthrough"}, bt709)...),
			"fails: scene SCENE, capture KEY, at 0.48 s: the recorder dropped frames (4 missing in 1 place, the longest step is 83.3 ms at 60 frames a second)\n" +
				"note: capture KEY: its frame rate is variable (86 pictures on a grid of 60 Hz with 4 places empty, up to 83.3 ms from one to the next; it is read by its stamps)"},
		{"border", lavfi(moving+",crop=60:32,pad=64:36:2:2:color=black", bt709...),
			"misleads: scene KEY, capture KEY: the capture has no sound (the scene's audio: uses it)\n" +
				"misleads: scene SCENE, capture KEY, at 0.00 s: a black border on all sides (left 2, right 2, top 2, bottom 2 pixels of 64x36 are black in all sampled pictures)"},
		// Two moments a picture, a line each in turn, and no tag that says so.
		{"fields", lavfi("nullsrc=s=64x36:r=120:d=1.5,format=yuv420p,geq=lum='60+between(X\\,20\\,25)*between(Y\\,10\\,15)*mod(X*5+N*41\\,130)':cb=128:cr=128,tinterlace=interleave_top,setfield=prog,setparams=field_mode=prog", bt709...),
			"misleads: scene SCENE, capture KEY, at 0.00 s: the pictures look interlaced (83 % of what moves is combed, and 0.0 % of what stands still)"},
		// 2 Hz and 5 Hz; of the planned clip one pane, half of it less the divider, flashes too often.
		{"flash2", lavfi(lum("if(lt(mod(N\\,30)\\,15)\\,40+mod(X\\,7)\\,200+mod(X+N\\,7))"), join([]string{"-f", "lavfi", "-i", "sine=440:r=48000:d=1.5"}, bt709, []string{"-c:a", "pcm_s16le"})...), ""},
		{"flash5", lavfi(lum("if(lt(mod(N\\,12)\\,6)\\,40+mod(X\\,7)\\,200+mod(X+N\\,7))"), bt709...),
			""},
	}
	dir := t.TempDir()
	text := "output: {folder: out, size: 256x144, rate: 60}\ncaptures:\n"
	scenes := "scenes:\n"
	for i, test := range tests {
		footage(t, filepath.Join(dir, test.key+".mkv"), test.args...)
		text += fmt.Sprintf("  %s: {video: %[1]s.mkv}\n", test.key)
		if i%2 == 1 {
			first := tests[i-1].key
			scenes += fmt.Sprintf("  - {id: %s, captures: [%[1]s, %s], start: 0s, length: 1s, audio: %[1]s, deck: {place: none}}\n", first, test.key)
		}
	}
	found, err := check.Run(t.Context(), open(t, dir, text+scenes), check.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, test := range tests {
		var own []finding.Finding
		for _, f := range found {
			if f.Capture == test.key && !strings.Contains(f.What, "against the other capture") {
				own = append(own, f)
			}
		}
		want := strings.NewReplacer("KEY", test.key, "SCENE", tests[i/2*2].key).Replace(test.want)
		if got := strings.Join(told(own), "\n"); got != want {
			t.Errorf("%s: found\n  %s\nwant\n  %s", test.key, got, want)
		}
	}
	var flashes []string
	for _, f := range found {
		if strings.Contains(f.What, "flashes") {
			flashes = append(flashes, f.String())
		}
	}
	if want := "harms: scene flash2, at 0.80 s: general flashes above the threshold of WCAG 2.3.1 and ITU-R BT.1702 " +
		"(4 flashes within a second over 49 % of the picture; 3 are allowed, or 25 %)"; strings.Join(flashes, "\n") != want {
		t.Errorf("flashes: found\n  %s\nwant\n  %s", strings.Join(flashes, "\n  "), want)
	}
	for _, f := range found {
		if f.Severity == finding.Fails && f.Capture != "gap" && f.Scene != "gap" {
			t.Errorf("%v, although nothing else than the gap fails", f)
		}
	}
}

// TestCheckLogs: a log that is right, one of a wrong unit, one that is 50 ms late,
// and one of another cadence than the pictures.
func TestCheckLogs(t *testing.T) {
	if testing.Short() {
		t.Skip("measures captures")
	}
	dir, known := t.TempDir(), &scene.Cache{}
	// A new frame begins after 1, 2 and 3 refreshes in turn.
	const pattern = "floor(N/6)*3+gte(mod(N\\,6)\\,1)+gte(mod(N\\,6)\\,3)"
	pictures := "nullsrc=s=64x48:r=60:d=3,format=yuv420p,geq=lum='40+mod(X*5+Y*3+(" + pattern + ")*13\\,160)':cb=128:cr=128"
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(pictures, bt709...)...)
	right := cadence(180, 1, 2, 3)
	late := make([]pacing.Frame, len(right))
	for i, f := range right {
		late[i] = pacing.Frame{Begin: f.Begin + hz60.TimeOf(2), Time: f.Time}
	}
	writeLog(t, filepath.Join(dir, "right.csv"), right)
	writeLog(t, filepath.Join(dir, "late.csv"), late)
	writeLog(t, filepath.Join(dir, "steady.csv"), cadence(180, 3))
	var text strings.Builder
	text.WriteString("ms\n")
	for _, f := range right {
		fmt.Fprintf(&text, "%.4f\n", float64(f.Time)/float64(time.Millisecond))
	}
	write(t, filepath.Join(dir, "unit.txt"), text.String())
	for log, want := range map[string][]string{
		"right.csv": nil,
		"late.csv": {"misleads: scene ridge, capture alder, at 0.50 s: the pacing log is offset from the pictures " +
			"(20 of 59 captured frames measured as new are so in the log; with the log moved by -33.3 ms (it is late), 59 are)"},
		"steady.csv": {"misleads: scene ridge, capture alder, at 0.50 s: the pacing log contradicts the pictures (59 new frames measured from 0.50 s to 2.50 s, the log has 39)"},
		"{file: unit.txt, column: ms, means: frame-time, unit: us}": {
			"fails: scene ridge: the scene cannot be rendered (capture alder: unit.txt:2: frame time 16.667µs is not between 20µs and 10m0s (and 29 more of 90 rows are bad); frame times are 1000 times too short, read as us)",
			"misleads: capture alder: the pacing log has bad rows (30 of 90, the first: unit.txt:2: frame time 16.667µs is not between 20µs and 10m0s)",
			"misleads: capture alder: the pacing log's unit seems wrong (read as us it covers 2.5 ms, the capture lasts 3.00 s: about 10^-3 times)"},
	} {
		p := reopen(t, dir, fmt.Sprintf(`
output: {folder: out, size: 640x360, rate: 60}
captures:
  alder: {video: alder.mkv, pacing: %s}
  birch: {video: alder.mkv, pacing: right.csv}
scenes:
  - {id: ridge, captures: [alder, birch], start: 0.5s, length: 2s, window: whole, audio: none}
`, log), known)
		found, err := check.Run(t.Context(), p, check.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, line := range told(found) {
			if !strings.Contains(line, "aspect") {
				got = append(got, strings.ReplaceAll(line, dir+string(filepath.Separator), ""))
			}
		}
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("%s: found\n  %s\nwant\n  %s", log, strings.Join(got, "\n  "), strings.Join(want, "\n  "))
		}
	}
}

// TestCheckFindsDamage: bytes overwritten in the middle of a capture are found
// within a scene, where rendering would fail; elsewhere only by a deep check.
func TestCheckFindsDamage(t *testing.T) {
	if testing.Short() {
		t.Skip("encodes and decodes")
	}
	const damagedFrame = 87
	dir, known := t.TempDir(), &scene.Cache{}
	footage(t, filepath.Join(dir, "birch.mkv"), lavfi(moving, bt709...)...)
	path := filepath.Join(dir, "alder.mp4")
	footage(t, path, lavfi("testsrc2=s=128x72:r=60:d=3", "-c:v", "libx264", "-g", "10", "-bf", "0", "-pix_fmt", "yuv420p", "-movflags", "+faststart",
		"-colorspace", "bt709", "-color_range", "tv")...)
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// Where a picture lies in the file depends on the encoder's version.
	where, err := exec.Command(tools(t).FFprobe, "-v", "error", "-select_streams", "v:0", "-show_entries", "packet=pos", "-of", "csv=p=0", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	begin, err := strconv.Atoi(strings.Trim(strings.Split(string(where), "\n")[damagedFrame], ", \r"))
	if err != nil {
		t.Fatal(err)
	}
	for i := begin + 12; i < begin+4012; i++ {
		raw[i] = byte(i * 7)
	}
	write(t, path, string(raw))
	check := func(start string, deep bool) []string {
		p := reopen(t, dir, fmt.Sprintf(`
output: {folder: out, size: 256x144, rate: 60}
captures:
  alder: {video: alder.mp4}
  birch: {video: birch.mkv}
scenes:
  - {id: ridge, captures: [alder, birch], start: {alder: %s, birch: 0s}, length: 500ms, audio: none, deck: {place: none}}
`, start), known)
		found, err := check.Run(t.Context(), p, check.Options{Deep: deep})
		if err != nil {
			t.Fatal(err)
		}
		var list []string
		for _, f := range found {
			if f.What == "the capture is damaged" {
				list = append(list, f.String())
			}
		}
		return list
	}
	if got := check("1.3s", false); len(got) != 1 || !strings.HasPrefix(got[0], "fails: scene ridge, capture alder, at 1.45 s: the capture is damaged (media: capture alder is damaged near its frame 87 ") {
		t.Errorf("within the scene: %q", got)
	}
	if got := check("100ms", false); len(got) != 0 {
		t.Errorf("elsewhere: %q", got)
	}
	if got := check("100ms", true); len(got) != 1 || !strings.HasPrefix(got[0], "misleads: capture alder, at 1.45 s: the capture is damaged (") {
		t.Errorf("elsewhere, deep: %q", got)
	}
}

// TestCheckCaptures: recordings that cannot be used, or not as they are, each with
// what is wrong with it.
func TestCheckCaptures(t *testing.T) {
	dir, known := t.TempDir(), &scene.Cache{}
	short := strings.Replace(moving, "d=1.5", "d=1", 1)
	footage(t, filepath.Join(dir, "good.mkv"), lavfi(short, bt709...)...)
	footage(t, filepath.Join(dir, "sound.mkv"), lavfi("sine=440:d=1", "-c:a", "pcm_s16le")...)
	footage(t, filepath.Join(dir, "variable.mkv"), lavfi(short, join([]string{"-vf", "select='lt(n,20)+not(mod(n,3))'", "-fps_mode", "vfr"}, []string{"-c:v", "libx264", "-preset", "ultrafast", "-f", "mp4"})...)...)
	footage(t, filepath.Join(dir, "fields.mkv"), lavfi(short+",setfield=tff", join(bt709, []string{"-field_order", "tt"})...)...)
	footage(t, filepath.Join(dir, "slow.mkv"), lavfi(strings.Replace(short, "r=60", "r=50", 1), bt709...)...)
	write(t, filepath.Join(dir, "empty.mkv"), "")
	footage(t, filepath.Join(dir, "spare.mkv"), lavfi(short, bt709...)...)
	for key, want := range map[string]string{
		"sound":    "fails: capture sound: the capture cannot be used (media: DIRsound.mkv has no video)",
		"variable": "note: capture variable: its frame rate is variable (33 pictures on a grid of 60 Hz with 25 places empty",
		"empty":    "fails: capture empty: the capture cannot be used (media: capture DIRempty.mkv is empty)",
		"fields":   "misleads: capture fields: the capture is not what it should be (DIRfields.mkv is interlaced; its two fields are shown as one picture)",
		"slow":     "misleads: capture slow: its frame rate is not the output's (capture 50, output 60 frames a second; frames are repeated unevenly)",
	} {
		p := reopen(t, dir, fmt.Sprintf(`
output: {folder: out, size: 256x144, rate: 60}
captures:
  %[1]s: {video: %[1]s.mkv}
  good: {video: good.mkv}
  spare: {video: spare.mkv}
scenes:
  - {id: ridge, captures: [%[1]s, good], start: 0s, length: 200ms, audio: none, deck: {place: none}}
`, key), known)
		found, err := check.Run(t.Context(), p, check.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var own []string
		spare := false
		for _, f := range found {
			line := strings.ReplaceAll(f.String(), dir+string(filepath.Separator), "DIR")
			if f.Capture == key {
				own = append(own, line)
				if strings.HasPrefix(line, want) && f.Remedy == "" {
					t.Errorf("%s: no remedy", line)
				}
			}
			spare = spare || line == "note: capture spare: no scene shows it"
		}
		if len(own) == 0 || !strings.HasPrefix(own[0], want) {
			t.Errorf("%s: found\n  %s\nwant\n  %s", key, strings.Join(own, "\n  "), want)
		}
		if !spare {
			t.Errorf("%s: nothing is said of the capture that no scene shows", key)
		}
		if finding.Failing(found) != strings.HasPrefix(want, "fails") {
			t.Errorf("%s: failing %v", key, finding.Failing(found))
		}
	}
}
