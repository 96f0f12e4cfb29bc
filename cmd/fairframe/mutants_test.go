//go:build linux

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// containers are what mutants are made of, each with the coding that captures in it
// have most often.
var containers = []container{
	{"mkv", "libx264 -preset ultrafast -g 10 -bf 2", "matroska", "", false},
	{"mp4", "libx264 -preset ultrafast -g 10 -bf 2", "mp4", "", false},
	// Motion JPEG cannot be of BT.709; its pictures are converted as the clip's are.
	{"mov", "mjpeg -q:v 8 -strict unofficial", "mov",
		"scale=flags=lanczos+accurate_rnd+full_chroma_int+full_chroma_inp:in_color_matrix=bt601:in_range=tv:out_color_matrix=bt709:out_range=tv,format=yuv420p,", false},
	{"ts", "libx264 -preset ultrafast -g 10 -bf 2", "mpegts", "", false},
	{"ffv1.mkv", "ffv1 -level 3 -slicecrc 1", "matroska", "", false},
	{"hevc.mp4", "libx265 -preset ultrafast -g 10 -x265-params log-level=error", "mp4", "", true},
}

type container struct {
	name, codec, format string
	colours             string // filters that make the film's pictures those of the clip
	silent              bool   // its decoder passes over most damage, and makes up other pictures each time
}

// The film of a mutant, and what the scene shows of it: the captures stand pixel by
// pixel beside each other, so that the clip can be compared with what an independent
// decode finds.
const (
	filmSide   = 128
	filmFrames = 30
	sceneFrom  = 5  // 83.4 ms, between two key frames
	sceneCount = 20 // 333 ms
)

// mutants renders from captures that were cut off, and whose bits were flipped or
// sectors lost, in every container, in parts of 70.
func (h *harness) mutants(t *testing.T) {
	for i, c := range containers {
		t.Run(c.name, func(t *testing.T) {
			if i > 0 && often(0, 1) == 0 {
				t.Skip("left to the large tier: bash .ci/test --faults")
			}
			m := h.film(t, c)
			for part := range often(1, 3) {
				t.Run(fmt.Sprint("part ", part+1), func(t *testing.T) {
					m.rand = h.dice(t)
					m.found = tally{}
					began := spent(t)
					for n := range often(2, 70) {
						m.try(t, n)
					}
					t.Logf("%v; %v of processor time each", m.found, (spent(t)-began)/time.Duration(m.found.tried))
				})
			}
			if err := os.WriteFile(m.path, m.whole, 0o644); err != nil {
				t.Fatal(err)
			}
			h.recovers(t, m.dir, m.temp, "render", "m.yaml", "--scene", "strict", "--quiet")
		})
	}
}

// mutant is a film to spoil.
type mutant struct {
	*harness
	rand      *rand.Rand
	dir, temp string
	path      string
	container container
	whole     []byte    // the film as it was
	pictures  []picture // of it
	found     tally
}

// tally counts what came of mutants.
type tally struct {
	tried          int
	right, altered int // clips
	unsteady       int
	refused, wary  int
	tolerated      int
}

func (n tally) String() string {
	return fmt.Sprintf("%d mutants: %d clips of the film's pictures; %d clips in which damage is told of; in %d clips, some of them the same, pictures that the file now holds and no decoder finds fault with, in %d such as no decoder decodes twice alike; %d refused, in %d of which ffmpeg's own decode found nothing",
		n.tried, n.right, n.tolerated, n.altered, n.unsteady, n.refused, n.wary)
}

// film makes the film of a container, and a folder to spoil it in.
func (h *harness) film(t *testing.T, c container) *mutant {
	t.Helper()
	m := &mutant{harness: h, dir: t.TempDir(), temp: t.TempDir(), container: c}
	if err := os.Mkdir(filepath.Join(m.dir, "captures"), 0o755); err != nil {
		t.Fatal(err)
	}
	m.path = filepath.Join(m.dir, "captures", "mutant."+c.name)
	make := func(source, codec, format, path string) {
		args := []string{"-f", "lavfi", "-i", fmt.Sprintf("%s=s=%dx%d:r=60,format=yuv420p", source, filmSide, filmSide), "-frames:v", strconv.Itoa(filmFrames), "-threads", "1",
			"-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-c:v"}
		ffmpeg(t, h.tools.FFmpeg, append(append(args, strings.Fields(codec)...), "-f", format, path)...)
	}
	make("testsrc2", c.codec, c.format, m.path)
	make("testsrc", "libx264 -preset ultrafast", "mp4", filepath.Join(m.dir, "captures", "other.mp4"))
	write(t, filepath.Join(m.dir, "m.yaml"), fmt.Sprintf(`
output: {folder: out, size: %dx%d, delivery: lossless}
captures:
  mutant: {video: captures/mutant.%s}
  other: {video: captures/other.mp4}
defaults: {captures: [mutant, other], start: f%d, length: 333ms, deck: {place: none}, audio: none}
scenes:
  - {id: strict}
  - {id: lenient, tolerate: decode-errors}
`, 2*filmSide, filmSide, c.name, sceneFrom))
	var err error
	if m.whole, err = os.ReadFile(m.path); err != nil {
		t.Fatal(err)
	}
	film := decode(t, h.tools.FFmpeg, m.path, c.colours)
	if m.pictures = film.pictures; len(m.pictures) != filmFrames || len(film.complaints) > 0 {
		t.Fatalf("the film has %d pictures; %v", len(m.pictures), film.complaints)
	}
	// The film itself first: the comparison of pictures must be able to pass.
	h.recovers(t, m.dir, m.temp, "render", "m.yaml", "--scene", "strict", "--quiet")
	if k := differs(t, h.tools.FFmpeg, filepath.Join(m.dir, "out", "strict.mkv"), m.pictures); k != nil {
		t.Fatalf("the clip of the film itself shows other pictures, at %v", k)
	}
	return m
}

// picture is one of an independent decode.
type picture struct {
	stamp float64 // in frames of 60 Hz, from the first picture
	luma  string  // digest
}

// decoding is what an independent decode makes of a file.
type decoding struct {
	pictures   []picture
	complaints map[int]string // of the video decoder, by how many pictures had come out before
	keys       []int          // pictures that are key frames
}

// decode decodes a file with one thread. What a container or an ending says does not
// count as a complaint: pictures do.
func decode(t *testing.T, ffmpeg, path, filter string) decoding {
	t.Helper()
	var stdout, stderr bytes.Buffer
	cmd := exec.Command(ffmpeg, "-hide_banner", "-nostats", "-v", "level+info", "-nostdin", "-threads", "1", "-max_error_rate", "1", "-copyts", "-i", path, "-map", "0:v:0", "-an", "-sn", "-dn",
		"-vf", filter+"setparams=range=tv,extractplanes=y,showinfo=checksum=0", "-fps_mode", "passthrough", "-enc_time_base", "1/90000", "-f", "framehash", "-hash", "md5", "-")
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	_ = cmd.Run() // what it says counts
	d := decoding{complaints: map[int]string{}}
	for line := range strings.Lines(stdout.String()) {
		f := strings.Split(strings.TrimSpace(line), ",")
		if strings.HasPrefix(line, "#") || len(f) < 6 {
			continue
		}
		pts, err := strconv.ParseFloat(strings.TrimSpace(f[2]), 64)
		if err != nil {
			t.Fatalf("%v in %q", err, line)
		}
		d.pictures = append(d.pictures, picture{pts / 1500, f[5]})
	}
	for i := len(d.pictures) - 1; i >= 0; i-- {
		d.pictures[i].stamp -= d.pictures[0].stamp
	}
	n := 0
	for line := range strings.Lines(stderr.String()) {
		switch {
		case strings.Contains(line, " iskey:1"):
			d.keys = append(d.keys, n)
			n++
		case strings.Contains(line, " iskey:0"):
			n++
		case complains.MatchString(line):
			d.complaints[n] += line
		}
	}
	return d
}

var complains = regexp.MustCompile(`^\[(h264|hevc|mjpeg|ffv1) @ \w+\] \[(error|fatal)\]`)

// complaint is what the decoder has to say against the pictures of the scene: of one of
// them, or of one that they may be predicted from.
func (d *decoding) complaint() (words string) {
	reach := 4 // pictures that a decoder holds back
	if len(d.keys) == len(d.pictures) {
		reach = 1 // each stands alone
	}
	for n, said := range d.complaints {
		mended := slices.ContainsFunc(d.keys, func(k int) bool { return k >= n+reach && k <= sceneFrom })
		if n < sceneFrom+sceneCount && !mended {
			words += said
		}
	}
	return words
}

// differs returns the frames of a clip whose mutant's pane is not the picture that
// is on screen at that time.
func differs(t *testing.T, ffmpeg, clip string, pictures []picture) (list []int) {
	t.Helper()
	shown := decode(t, ffmpeg, clip, fmt.Sprintf("crop=%d:%d:0:0,", filmSide, filmSide))
	if len(shown.pictures) != sceneCount || len(shown.complaints) > 0 {
		t.Fatalf("the clip has %d frames; %v", len(shown.pictures), shown.complaints)
	}
	for k, s := range shown.pictures {
		want := ""
		for _, p := range pictures {
			if math.Round(p.stamp) <= float64(sceneFrom+k) {
				want = p.luma
			}
		}
		if s.luma != want {
			list = append(list, k)
		}
	}
	return list
}

// spoil changes the film, and says how.
func (m *mutant) spoil(n int) (spoilt []byte, how string) {
	spoilt = bytes.Clone(m.whole)
	switch n % 4 {
	case 0:
		spoilt = spoilt[:m.rand.IntN(len(spoilt))]
		return spoilt, fmt.Sprintf("cut off after %d bytes", len(spoilt))
	case 1:
		at := m.rand.IntN(len(spoilt)) &^ 511
		clear(spoilt[at:min(at+512, len(spoilt))])
		return spoilt, fmt.Sprintf("sector at %d lost", at)
	}
	flips := 1 + m.rand.IntN(20)
	if n%4 == 2 {
		flips = 1
	}
	how = "bits flipped at"
	for range flips {
		at, bit := m.rand.IntN(len(spoilt)), m.rand.IntN(8)
		spoilt[at] ^= 1 << bit
		how += fmt.Sprintf(" %d.%d", at, bit)
	}
	return spoilt, how
}

// try renders from one mutant, half of them where damage is tolerated. A clip may only
// come of it that is right: it shows the pictures of the film, or those that the file
// now holds and no decoder complains of. A clip of damage that is tolerated must say
// which frames may be wrong, and the others must be right.
func (m *mutant) try(t *testing.T, n int) {
	t.Helper()
	spoilt, how := m.spoil(n)
	if err := os.WriteFile(m.path, spoilt, 0o644); err != nil {
		t.Fatal(err)
	}
	scene := []string{"strict", "lenient"}[n/4%2]
	clip := filepath.Join(m.dir, "out", scene+".mkv")
	_ = os.Remove(clip) // it may not be there
	r := m.start(t, m.dir, m.temp, "render", "m.yaml", "--scene", scene, "--quiet")
	code := r.code(t)
	m.clean(t, m.dir, r)
	now := decode(t, m.tools.FFmpeg, m.path, m.container.colours)
	m.found.tried++
	switch {
	case code == exitFailed:
		m.refused(t, r, clip, now, scene == "lenient")
	case code != exitDone:
		t.Errorf("exit code %d\n%s", code, r.stderr.String())
	case strings.Contains(r.stdout.String(), "tolerated  capture mutant is damaged: ") && scene == "lenient":
		m.found.tolerated++
		m.made(t, clip, now, m.told(t))
	default:
		m.made(t, clip, now, nil)
	}
	if t.Failed() {
		keep := filepath.Join(os.TempDir(), "fairframe-mutant."+m.container.name)
		_ = os.WriteFile(keep, spoilt, 0o644)
		t.Fatalf("mutant %d, %s, kept as %s\n%s%s", n, how, keep, r.stdout.String(), r.stderr.String())
	}
}

// refused looks at a run that made no clip.
func (m *mutant) refused(t *testing.T, r *disturbed, clip string, now decoding, lenient bool) {
	t.Helper()
	m.found.refused++
	if now.complaint() == "" && len(now.pictures) >= sceneFrom+sceneCount {
		m.found.wary++
	}
	truthful(t, r, "mutant")
	if _, err := os.Lstat(clip); err == nil {
		t.Error("it failed and left a clip")
	}
	if lenient && strings.Contains(r.stderr.String(), "is damaged near") {
		t.Error("damage was not tolerated")
	}
}

// made looks at a clip. doubted are the frames of the capture that may be wrong; nil:
// none may.
func (m *mutant) made(t *testing.T, clip string, now decoding, doubted *frameRange) {
	t.Helper()
	sure := func(k int) bool { return doubted == nil || sceneFrom+k < doubted.First || sceneFrom+k > doubted.Last }
	unlike := func(pictures []picture) []int {
		return slices.DeleteFunc(differs(t, m.tools.FFmpeg, clip, pictures), func(k int) bool { return !sure(k) })
	}
	film := unlike(m.pictures)
	if len(film) == 0 {
		if doubted == nil {
			m.found.right++
		}
		return
	}
	file := unlike(now.pictures)
	switch complaint := now.complaint(); {
	case len(file) == 0 && (complaint == "" || doubted != nil):
		m.found.altered++
	case m.container.silent && complaint == "":
		m.found.unsteady++
	default:
		t.Errorf("a clip was made whose frames %v are not the film's, and %v not the file's; of the capture %+v are doubted\n%s", film, file, doubted, complaint)
	}
}

// frameRange are frames of a capture, as a manifest names them.
type frameRange struct {
	Capture string `json:"capture"`
	First   int    `json:"first_frame"`
	Last    int    `json:"last_frame"`
}

// told is the damage that the manifest tells of.
func (m *mutant) told(t *testing.T) *frameRange {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(m.dir, "out", "manifest.json"))
	if err != nil {
		t.Fatal(err)
	}
	var manifest struct {
		Scenes map[string]struct {
			Record struct{ Tolerated []frameRange }
		}
	}
	if err := json.Unmarshal(b, &manifest); err != nil {
		t.Fatal(err)
	}
	list := manifest.Scenes["lenient"].Record.Tolerated
	if len(list) != 1 || list[0].Capture != "mutant" {
		t.Fatalf("the manifest tells of %+v", list)
	}
	return &list[0]
}

// spent is the processor time of the programs that the test ran so far.
func spent(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u); err != nil {
		t.Fatal(err)
	}
	return (time.Duration(u.Utime.Nano() + u.Stime.Nano())).Round(time.Millisecond)
}

// ffmpeg runs ffmpeg to make something for a test.
func ffmpeg(t *testing.T, program string, args ...string) {
	t.Helper()
	if out, err := exec.Command(program, append([]string{"-y", "-v", "error", "-nostdin"}, args...)...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
}
