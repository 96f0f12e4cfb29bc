//go:build linux

package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"fairframe/render/media"
)

// TestHostile gives the program inputs that somebody means harm with: files that
// name other files and other machines, names and texts that mean something to a
// shell or to ffmpeg, fonts that are none, numbers beyond all bounds, links where an
// output goes. It proves with strace that nothing but the named files is opened,
// that nothing is written outside of the output's folder and the temporary one, and
// that nobody is spoken to; and it measures memory and time.
//
// A few runs cover most inputs at once; FAIRFRAME_FAULTS tries each by itself too.
func TestHostile(t *testing.T) {
	tr := newTracer(t)
	h := newHostile(t)
	t.Run("captures", func(t *testing.T) { h.captures(t, tr) })
	t.Run("paths", func(t *testing.T) { h.paths(t, tr) })
	t.Run("names and texts", func(t *testing.T) { h.names(t, tr) })
	t.Run("links", func(t *testing.T) { h.links(t, tr) })
	t.Run("command line", func(t *testing.T) { h.commandLine(t, tr) })
	t.Run("files", func(t *testing.T) { h.files(t, tr) })
}

// hostile is a folder of harmless captures, among them one that only hostile
// inputs name, and a listener that nobody may speak to.
type hostile struct {
	dir    string
	ffmpeg string
	port   int
}

func newHostile(t *testing.T) *hostile {
	t.Helper()
	tools, err := media.Find("")
	if err != nil {
		t.Fatalf("the tests need ffmpeg: %v", err)
	}
	h := &hostile{dir: real(t, t.TempDir()), ffmpeg: tools.FFmpeg}
	h.make(t, "-f", "lavfi", "-i", "testsrc2=s=128x72:r=60:d=0.5", "-c:v", "libx264", "-preset", "ultrafast", "-g", "10", filepath.Join(h.dir, "good.mp4"))
	h.make(t, "-i", filepath.Join(h.dir, "good.mp4"), "-c", "copy", filepath.Join(h.dir, "secret.ts"))
	h.make(t, "-i", filepath.Join(h.dir, "good.mp4"), "-c", "copy", filepath.Join(h.dir, "secret.mp4"))
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	h.port = l.Addr().(*net.TCPAddr).Port
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			t.Error("somebody connected")
			c.Close()
		}
	}()
	t.Cleanup(func() { l.Close(); <-done })
	return h
}

// real is the path of a folder without links, as strace tells it.
func real(t *testing.T, dir string) string {
	t.Helper()
	path, err := filepath.EvalSymlinks(dir)
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func (h *hostile) make(t *testing.T, args ...string) {
	t.Helper()
	if out, err := exec.Command(h.ffmpeg, append([]string{"-y", "-v", "error", "-nostdin"}, args...)...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
}

// place is a folder with the good capture, links to the secret ones, and a
// comparison file.
func (h *hostile) place(t *testing.T) (dir, temp string) {
	t.Helper()
	dir, temp = real(t, t.TempDir()), real(t, t.TempDir())
	if err := os.Mkdir(filepath.Join(dir, "captures"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"good.mp4", "secret.mp4", "secret.ts"} {
		b, err := os.ReadFile(filepath.Join(h.dir, name))
		if err != nil {
			t.Fatal(err)
		}
		write(t, filepath.Join(dir, "captures", name), string(b))
	}
	return dir, temp
}

// capture is a file that poses as a capture.
type poser struct{ name, content string }

// posers are files that name other files or other machines.
func (h *hostile) posers(t *testing.T, dir string) []poser {
	t.Helper()
	folder := filepath.Join(dir, "captures")
	list := []poser{
		{"concat.mkv", "ffconcat version 1.0\nfile secret.mp4\n"},
		{"concat-plain.mp4", "file 'secret.mp4'\n"},
		{"concat-absolute.mkv", "ffconcat version 1.0\nfile '" + folder + "/secret.mp4'\n"},
		{"hls.mkv", "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nsecret.ts\n#EXT-X-ENDLIST\n"},
		{"hls-absolute.mp4", "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nfile://" + folder + "/secret.ts\n#EXT-X-ENDLIST\n"},
		{"hls-network.ts", fmt.Sprintf("#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nhttp://127.0.0.1:%d/a.ts\n#EXT-X-ENDLIST\n", h.port)},
		{"hls-key.mov", fmt.Sprintf("#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXT-X-KEY:METHOD=AES-128,URI=\"http://127.0.0.1:%d/k\"\n#EXTINF:1,\nsecret.ts\n#EXT-X-ENDLIST\n", h.port)},
		{"dash.mp4", fmt.Sprintf(`<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static" mediaPresentationDuration="PT1S"><Period><AdaptationSet mimeType="video/mp4"><Representation id="1" bandwidth="1"><BaseURL>http://127.0.0.1:%d/a.mp4</BaseURL></Representation></AdaptationSet></Period></MPD>`, h.port)},
		{"sdp.mkv", "v=0\r\no=- 0 0 IN IP4 127.0.0.1\r\ns=x\r\nc=IN IP4 127.0.0.1\r\nt=0 0\r\nm=video 5004 RTP/AVP 96\r\na=rtpmap:96 H264/90000\r\n"},
		{"rtsp.mkv", fmt.Sprintf("rtsptext\nrtsp://127.0.0.1:%d/a\n", h.port)},
		{"asx.mkv", fmt.Sprintf("<ASX version=\"3.0\"><ENTRY><REF HREF=\"http://127.0.0.1:%d/a\"/></ENTRY></ASX>", h.port)},
		{"imf.mxf", "<?xml version=\"1.0\"?><CompositionPlaylist xmlns=\"http://www.smpte-ra.org/schemas/2067-3/2016\"><Id>urn:uuid:1</Id></CompositionPlaylist>"},
		{"subtitle.mkv", "[Script Info]\nScriptType: v4.00+\n[Fonts]\nfontname: secret\n"},
		{"svg.mkv", "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\"><image xlink:href=\"secret.mp4\"/></svg>"},
		{"vapoursynth.avi", "import os\nos.system('touch made')\n"},
		{"avisynth.avi", "AviSource(\"secret.mp4\")\n"},
		{"empty.mkv", ""},
		{"text.mkv", strings.Repeat("not a video ", 1000)},
		{"reference.mov", string(h.reference(t, folder))},
		{"huge.mkv", string(h.huge(t))},
	}
	return list
}

// reference is a MOV whose sample data lie in another file, by a data reference
// that is an alias record (QuickTime File Format, "Data reference atoms").
func (h *hostile) reference(t *testing.T, folder string) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a.mov")
	h.make(t, "-i", filepath.Join(h.dir, "good.mp4"), "-c", "copy", path)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	secret := filepath.Join(folder, "secret.mp4")
	alias := make([]byte, 10)
	volume := make([]byte, 28)
	name := make([]byte, 64)
	name[0] = byte(copy(name[1:], "secret.mp4"))
	alias = append(append(append(alias, volume...), make([]byte, 12)...), name...)
	alias = append(alias, make([]byte, 16)...)
	alias = append(alias, 0, 1, 0, 1) // one level up, one down
	alias = append(alias, make([]byte, 16)...)
	put := func(kind int, text string) {
		alias = binary.BigEndian.AppendUint16(alias, uint16(kind))
		alias = binary.BigEndian.AppendUint16(alias, uint16(len(text)))
		alias = append(alias, text...)
		if len(text)%2 != 0 {
			alias = append(alias, 0)
		}
	}
	put(2, "disk:"+strings.ReplaceAll(secret[1:], "/", ":")) // the path from the volume
	put(18, secret)
	alias = append(alias, 0xff, 0xff, 0, 0)
	entry := binary.BigEndian.AppendUint32(nil, uint32(12+len(alias)))
	entry = append(append(entry, "alis\x00\x00\x00\x00"...), alias...)
	dref := append([]byte{0, 0, 0, 0, 0, 0, 0, 1}, entry...)

	made, replaced := replaceBox(b, []string{"moov", "trak", "mdia", "minf", "dinf", "dref"}, dref)
	if !replaced {
		t.Fatal("the MOV has no data reference to replace")
	}
	return made
}

// replaceBox gives the box at a path of types another content, and all around it
// the sizes that follow (ISO/IEC 14496-12).
func replaceBox(b []byte, path []string, content []byte) (out []byte, done bool) {
	for at := 0; at+8 <= len(b); {
		size := int(binary.BigEndian.Uint32(b[at:]))
		if size < 8 || at+size > len(b) {
			return append(out, b[at:]...), done
		}
		body := b[at+8 : at+size]
		if kind := string(b[at+4 : at+8]); kind == path[0] && !done {
			if len(path) == 1 {
				body, done = content, true
			} else {
				body, done = replaceBox(body, path[1:], content)
			}
		}
		out = binary.BigEndian.AppendUint32(out, uint32(8+len(body)))
		out = append(append(out, b[at+4:at+8]...), body...)
		at += size
	}
	return out, done
}

// huge is a small file whose pictures claim 65500 lines of 65500 pixels.
func (h *hostile) huge(t *testing.T) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a.mkv")
	h.make(t, "-f", "lavfi", "-i", "testsrc2=s=128x72:r=60:d=0.2", "-c:v", "mjpeg", "-pix_fmt", "yuvj420p", path)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// Each picture's frame header (ITU-T T.81, B.2.2): FFC0, length, precision,
	// height, width.
	n := 0
	for i := 0; i+9 < len(b); i++ {
		if b[i] == 0xff && b[i+1] == 0xc0 && b[i+4] == 8 {
			binary.BigEndian.PutUint16(b[i+5:], 65500)
			binary.BigEndian.PutUint16(b[i+7:], 65500)
			n++
		}
	}
	if n == 0 {
		t.Fatal("no frame header in the MJPEG")
	}
	// And the track's own size, two elements of one byte each (Matroska, PixelWidth
	// B0, PixelHeight BA), stays: it is the decoder that is to be asked for room.
	return b
}

// captures lets all posers take part in one check, and with --faults each of them
// in every command.
func (h *hostile) captures(t *testing.T, tr *tracer) {
	dir, temp := h.place(t)
	named := []string{filepath.Join(dir, "f.yaml"), filepath.Join(dir, "captures", "good.mp4")}
	var captures, scenes strings.Builder
	list := h.posers(t, dir)
	for i, p := range list {
		path := filepath.Join(dir, "captures", p.name)
		write(t, path, p.content)
		named = append(named, path)
		fmt.Fprintf(&captures, "  p%d: {video: captures/%s}\n", i, p.name)
		fmt.Fprintf(&scenes, "  - {id: s%d, captures: [p%d, good]}\n", i, i)
	}
	write(t, filepath.Join(dir, "f.yaml"), "output: {size: 128x128}\ncaptures:\n  good: {video: captures/good.mp4}\n"+captures.String()+
		"defaults: {start: 0s, length: 100ms, deck: {place: none}, audio: none}\nscenes:\n"+scenes.String())
	r := tr.run(t, dir, temp, "check", "f.yaml", "--quiet")
	r.stayedWithin(t, named, []string{filepath.Join(dir, "out"), temp})
	r.refused(t, exitFailed)
	for i, p := range list {
		if !strings.Contains(r.stdout, fmt.Sprintf("capture p%d: ", i)) {
			t.Errorf("%s: nothing is said of it", p.name)
		}
	}
	empty(t, temp)
	if _, err := os.Stat(filepath.Join(dir, "made")); err == nil {
		t.Error("a capture was run as a program")
	}
	if often(0, 1) == 0 {
		return
	}
	for i, p := range list {
		t.Run(p.name, func(t *testing.T) {
			for _, args := range [][]string{
				{"render", "f.yaml", "--scene", fmt.Sprintf("s%d", i)}, {"preview", "f.yaml", "--scene", fmt.Sprintf("s%d", i), "--at", "0s"},
				{"measure", "captures/" + p.name, "-o", "out/log.csv"}, {"align", "captures/good.mp4", "captures/" + p.name}, {"verify", "captures/" + p.name, "f.yaml"},
				{"figures", "f.yaml", "--scene", fmt.Sprintf("s%d", i)},
			} {
				r := tr.run(t, dir, temp, append(args, "--quiet")...)
				r.stayedWithin(t, named, []string{filepath.Join(dir, "out"), temp})
				if args[0] != "figures" { // which needs a log and says so
					r.refused(t, exitFailed)
				}
				empty(t, temp)
				nothing(t, filepath.Join(dir, "out"))
			}
		})
	}
}

// empty fails if a folder holds anything.
func empty(t *testing.T, dir string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	if len(list) > 0 {
		t.Errorf("left in %s: %v", dir, list)
	}
}

func nothing(t *testing.T, dir string) { t.Helper(); empty(t, dir) }

// paths names captures, logs, fonts and folders by what is no file, or means
// something to ffmpeg.
func (h *hostile) paths(t *testing.T, tr *tracer) {
	dir, temp := h.place(t)
	fifo := filepath.Join(dir, "captures", "fifo")
	if err := syscall.Mkfifo(fifo, 0o644); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "captures", "img001.png"), "no picture")
	write(t, filepath.Join(dir, "captures", "font.ttf"), "\x00\x01\x00\x00\xff\xff no font")
	write(t, filepath.Join(dir, "captures", "good.csv"), "time_s,frame_time_ms,tear\n0,16.7,\n")
	for i, path := range []string{
		"captures/img%03d.png", "subfile:,,start,0,end,100,,:captures/secret.mp4", "concat:captures/secret.ts|captures/secret.ts",
		fmt.Sprintf("http://127.0.0.1:%d/a.mp4", h.port), "file:captures/secret.mp4", "pipe:0", "-i", "data:video/mp4;base64,AAAA", "crypto:captures/secret.ts",
		"captures/fifo", "captures", "/dev/zero", "/dev/stdin", "/proc/self/mem", "captures/" + strings.Repeat("x", 4000),
		"async:captures/secret.ts", "cache:captures/secret.ts", "tee:captures/secret.ts", "../../../../../../../../../../etc/shadow-", "~/a.mkv", "$HOME/a.mkv", "$(touch made).mkv",
	} {
		// A capture, a log and a font of that name.
		for _, tt := range []struct{ what, text string }{
			{"capture", "captures: {a: {video: %s}, good: {video: captures/good.mp4}}\ndefaults: {deck: {place: none}}"},
			{"log", "captures: {a: {video: captures/good.mp4, pacing: %s}, good: {video: captures/good.mp4, pacing: captures/good.csv}}\ndefaults: {}"},
			{"font", "fonts: {text: %s}\ncaptures: {a: {video: captures/good.mp4, pacing: captures/good.csv}, good: {video: captures/good.mp4, pacing: captures/good.csv}}\ndefaults: {}"},
		} {
			if often(0, 1) == 0 && i%7 != 0 && !strings.Contains("captures/fifo /dev/zero", path) {
				continue
			}
			write(t, filepath.Join(dir, "f.yaml"), "output: {size: 128x128}\n"+fmt.Sprintf(tt.text, "'"+path+"'")+"\nscenes: [{id: s, captures: [a, good], start: 0s, length: 100ms, audio: none}]\n")
			r := tr.run(t, dir, temp, "render", "f.yaml", "--scene", "s", "--quiet")
			named := []string{filepath.Join(dir, "f.yaml"), filepath.Join(dir, "captures", "good.mp4"), filepath.Join(dir, "captures", "good.csv"), filepath.Join(dir, path)}
			r.stayedWithin(t, named, []string{filepath.Join(dir, "out"), temp})
			r.refused(t, exitFailed)
			empty(t, temp)
			nothing(t, filepath.Join(dir, "out"))
			if t.Failed() {
				t.Fatalf("%s %q", tt.what, path)
			}
		}
	}
	// A font that is none.
	write(t, filepath.Join(dir, "f.yaml"), `output: {size: 128x128}
fonts: {bold: captures/font.ttf}
captures: {a: {video: captures/good.mp4, pacing: captures/good.csv}, good: {video: captures/good.mp4, pacing: captures/good.csv}}
scenes: [{id: s, captures: [a, good], start: 0s, length: 100ms}]
`)
	r := tr.run(t, dir, temp, "render", "f.yaml", "--scene", "s", "--quiet")
	r.refused(t, exitFailed, "font.ttf")
	r.modest(t)
}

// names renders from files with names that mean something to a shell or to
// ffmpeg, with texts that are filter syntax. That is nobody's fault: the clip must be
// made, and nothing else happen.
func (h *hostile) names(t *testing.T, tr *tracer) {
	dir, temp := h.place(t)
	odd := `-a:b'c"d,e;f[g]h%d%03d\i $(touch made) #é|movie=secret.mp4.mp4`
	attached := filepath.Join(dir, "captures", "attached.mkv")
	h.make(t, "-i", filepath.Join(h.dir, "good.mp4"), "-c", "copy", "-attach", filepath.Join(h.dir, "secret.ts"), "-metadata:s:t", "mimetype=application/octet-stream",
		"-metadata:s:t", "filename=../../escaped", "-metadata", "title=x,movie=secret.mp4[q];[q]null", attached)
	for _, to := range []string{filepath.Join(dir, "captures", odd), filepath.Join(dir, odd+".d", "x.mp4")} {
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := copyFile(to, filepath.Join(h.dir, "good.mp4")); err != nil {
			t.Fatal(err)
		}
	}
	write(t, filepath.Join(dir, "captures", "good.csv"), "time_s,frame_time_ms,tear\n0,16.7,\n0.0167,16.7,\n0.0334,500,\n")
	hostileText := `x,movie=captures/secret.mp4[q];[q]null %{localtime} %d ${HOME} '\''`
	file := filepath.Join(dir, odd+".d", "-f'%d.yaml")
	write(t, file, fmt.Sprintf(`title: %[2]s
output: {folder: %[1]s, size: 320x180, delivery: lossless}
captures:
  a: {name: %[2]s, detail: '[0:v]null,', video: %[3]s, pacing: ../captures/good.csv}
  b: {name: "%%{pts} é", video: ../captures/attached.mkv, pacing: ../captures/good.csv}
scenes:
  - {id: s, captures: [a, b], start: 0s, length: 100ms, caption: %[2]s, title: 50ms, summary: 50ms, marks: [{at: [0.5, 0.5], note: %[2]s}]}
`, quoted(`o'u%d:t,[x]`), quoted(hostileText), quoted("../captures/"+odd)))
	out := filepath.Join(dir, odd+".d", `o'u%d:t,[x]`)
	named := []string{file, filepath.Join(dir, "captures", odd), attached, filepath.Join(dir, "captures", "good.csv")}
	r := tr.run(t, filepath.Join(dir, odd+".d"), temp, "render", "--scene", "s", "--quiet", "--", "-f'%d.yaml")
	if r.code != exitDone {
		t.Fatalf("exit code %d\n%s", r.code, r.stderr)
	}
	r.stayedWithin(t, named, []string{out, temp})
	list, err := os.ReadDir(out)
	if err != nil || len(list) != 2 || list[0].Name() != "manifest.json" || list[1].Name() != "s.mkv" {
		t.Errorf("made %v (%v)", list, err)
	}
	empty(t, temp)
	for _, name := range []string{filepath.Join(dir, "made"), filepath.Join(dir, odd+".d", "made"), filepath.Join(filepath.Dir(dir), "escaped"), filepath.Join(dir, "escaped")} {
		if _, err := os.Lstat(name); err == nil {
			t.Errorf("%s was made", name)
		}
	}
	// Words that no font has, that run backwards or over lines, are refused and named.
	for _, tt := range []struct{ text, words string }{
		{`"\u05e9\u05dc\u05d5\u05dd"`, "U+05E9"}, {`"a\u202eb"`, "U+202E"}, {`"a\nb"`, "line break"}, {`"a\u0000b"`, "U+0000"}, {`"a\u001b[2Jb"`, "U+001B"},
		{`"` + strings.Repeat(`\u0301`, 250) + `"`, ""}, {`"\U0001F600"`, "U+1F600"}, {quoted(strings.Repeat("x", 4000)), "4000 characters"},
	}[:often(2, 8)] {
		write(t, file, fmt.Sprintf(`output: {folder: o, size: 128x128, delivery: lossless}
captures: {a: {video: %[1]s, pacing: ../captures/good.csv}, b: {video: ../captures/attached.mkv, pacing: ../captures/good.csv}}
scenes: [{id: s, captures: [a, b], start: 0s, length: 50ms, caption: %[2]s}]
`, quoted("../captures/"+odd), tt.text))
		cmd := exec.Command(tr.program, "preview", "--scene", "s", "--at", "0s", "--quiet", "--", file)
		r := bounded(t, cmd, dir, temp)
		r.modest(t)
		if tt.words != "" || r.code != exitDone {
			r.refused(t, exitFailed, tt.words)
		}
		if t.Failed() {
			t.Fatalf("caption %.50s", tt.text)
		}
	}
}

// stairs is a mapping that nests so deep, a line a step.
func stairs(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}

// quoted is a text in YAML's single quotes.
func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// links puts links where outputs, manifests and temporary files go.
func (h *hostile) links(t *testing.T, tr *tracer) {
	dir, temp := h.place(t)
	precious := filepath.Join(dir, "precious")
	write(t, precious, "precious")
	write(t, filepath.Join(dir, "f.yaml"), `output: {size: 128x128, delivery: lossless}
captures: {a: {video: captures/good.mp4}, b: {video: captures/good.mp4}}
defaults: {captures: [a, b], start: 0s, length: 50ms, deck: {place: none}}
scenes: [{id: s}]
`)
	out := filepath.Join(dir, "out")
	if err := os.Mkdir(out, 0o755); err != nil {
		t.Fatal(err)
	}
	named := []string{filepath.Join(dir, "f.yaml"), filepath.Join(dir, "captures", "good.mp4")}
	// The link goes, not what it leads to, whether it is called like an output or like
	// what a killed run leaves behind.
	ended := exec.Command(os.Args[0], "-test.run=^$")
	if err := ended.Run(); err != nil {
		t.Fatal(err)
	}
	host, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	left := fmt.Sprintf(".s.mkv.ff%x-%d-1.part", sha256.Sum256([]byte(host)), ended.Process.Pid)
	left = strings.Replace(left, left[len(".s.mkv.ff")+6:len(".s.mkv.ff")+64], "", 1)
	for _, err := range []error{
		os.Symlink(precious, filepath.Join(out, "s.mkv")), os.Link(precious, filepath.Join(out, "manifest.json")), os.Symlink(precious, filepath.Join(out, left)),
		os.Mkdir(filepath.Join(dir, "treasure"), 0o755), os.Symlink(precious, filepath.Join(dir, "treasure", "kept")),
		os.Symlink(filepath.Join(dir, "treasure"), filepath.Join(out, left+"x.part")),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	r := tr.run(t, dir, temp, "render", "f.yaml", "--scene", "s", "--quiet")
	if r.code != exitDone {
		t.Errorf("exit code %d\n%s", r.code, r.stderr)
	}
	r.stayedWithin(t, append(named, precious), []string{out, temp})
	for _, name := range []string{"s.mkv", "manifest.json"} {
		if info, err := os.Lstat(filepath.Join(out, name)); err != nil || !info.Mode().IsRegular() {
			t.Errorf("%s is no file of its own: %v %v", name, info, err)
		}
	}
	if list, err := os.ReadDir(out); err != nil || len(list) != 2 {
		t.Errorf("left in the folder: %v (%v)", list, err)
	}
	if _, err := os.Lstat(filepath.Join(dir, "treasure", "kept")); err != nil {
		t.Error(err)
	}
	// To a capture, by whatever name: an input is never overwritten.
	if err := os.Symlink(filepath.Join("captures", "good.mp4"), filepath.Join(dir, "x.mkv")); err != nil {
		t.Fatal(err)
	}
	if err := os.Link(filepath.Join(dir, "captures", "good.mp4"), filepath.Join(dir, "y.mkv")); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"x.mkv", "y.mkv", "captures/../x.mkv"}[:often(1, 3)] {
		r := bounded(t, exec.Command(tr.program, "render", "f.yaml", "--scene", "s", "--quiet", "-o", name), dir, temp)
		r.refused(t, exitFailed, "input")
	}
	// A manifest that would never end, and a folder where a file goes.
	for i, set := range []func(path string) error{
		func(path string) error { return syscall.Mkfifo(path, 0o644) },
		func(path string) error { return os.Symlink("/dev/zero", path) },
		func(path string) error { return os.Mkdir(path, 0o755) },
	} {
		if i > often(0, 2) {
			break
		}
		path := filepath.Join(out, "manifest.json")
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
		if err := set(path); err != nil {
			t.Fatal(err)
		}
		r := bounded(t, exec.Command(tr.program, "render", "f.yaml", "--scene", "s", "--quiet"), dir, temp)
		r.modest(t)
		if r.code != exitDone {
			r.refused(t, exitFailed, "manifest")
		}
	}
	empty(t, temp)
	// A clip's name that is a folder.
	for _, name := range []string{"manifest.json", "s.mkv"} {
		if err := os.RemoveAll(filepath.Join(out, name)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(out, "s.mkv"), 0o755); err != nil {
		t.Fatal(err)
	}
	r = bounded(t, exec.Command(tr.program, "render", "f.yaml", "--scene", "s", "--quiet"), dir, temp)
	r.refused(t, exitFailed, "s.mkv")
	if b, err := os.ReadFile(precious); err != nil || string(b) != "precious" {
		t.Errorf("what the links led to now holds %q (%v)", b, err)
	}
	list, err := os.ReadDir(out)
	if err != nil || len(list) != 1 {
		t.Errorf("left: %v (%v)", list, err)
	}
}

// commandLine names files on the command line that mean something else to
// ffmpeg.
func (h *hostile) commandLine(t *testing.T, tr *tracer) {
	dir, temp := h.place(t)
	for _, name := range []string{"-a.mp4", "a\nb.mp4", "a:b.mp4", "a%d.mp4", "a'b.mp4"} {
		path := filepath.Join(dir, name)
		if err := copyFile(path, filepath.Join(h.dir, "good.mp4")); err != nil {
			t.Fatal(err)
		}
		r := tr.run(t, dir, temp, "measure", "--quiet", "-o", "log.csv", "--", name)
		if r.code != exitDone {
			t.Errorf("%q: exit code %d\n%s", name, r.code, r.stderr)
		}
		r.stayedWithin(t, []string{path}, []string{temp, filepath.Join(dir, "log.csv"), dir})
		if often(0, 1) == 0 {
			break
		}
	}
	if err := os.Remove(filepath.Join(dir, "log.csv")); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(filepath.Join(dir, "fifo"), 0o644); err != nil { // which nobody ever writes to
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"measure", fmt.Sprintf("http://127.0.0.1:%d/a.mp4", h.port)}, {"align", "concat:captures/secret.ts", "captures/good.mp4"},
		{"measure", strings.Repeat("x", 4096)}, {"verify", "pipe:0"}, {"render", "/dev/zero", "--scene", "s"}, {"render", "/proc/self/mem", "--scene", "s"},
		{"measure", "captures/\x1b[2J\u202e\u009b31m.mp4"}, {"figures", "\x1b]0;x\a.yaml"}, {"batch", "fifo"}, {"verify", "fifo"}, {"align", "fifo", "captures/good.mp4"}, {"measure", "captures/good.mp4", "-o", "fifo"},
		{"measure", "captures/good.mp4", "--from", "1000h", "-o", "log.csv"}, {"measure", "captures/good.mp4", "--region", "0,0,99999999999999999999,1"},
	} {
		r := bounded(t, exec.Command(tr.program, append(args, "--quiet")...), dir, temp)
		r.modest(t)
		if r.code != exitFailed && r.code != exitUsage || !strings.Contains(r.stderr, "error: ") {
			t.Errorf("%.100v: exit code %d\n%.500s", args, r.code, r.stderr)
		}
	}
	empty(t, temp)
	// What is no file stays what it is.
	if info, err := os.Lstat(filepath.Join(dir, "fifo")); err != nil || info.Mode()&os.ModeNamedPipe == 0 {
		t.Errorf("the pipe is now %v (%v)", info, err)
	}
}

// files are comparison files that would take all memory or all time.
func (h *hostile) files(t *testing.T, tr *tracer) {
	dir, temp := h.place(t)
	const rest = "captures: {a: {video: captures/good.mp4}, b: {video: captures/good.mp4}}\nscenes: [{id: s, captures: [a, b], start: 0s, length: 50ms, deck: {place: none}%s}]\n"
	bomb := "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
	for i := 1; i < 20; i++ {
		bomb += fmt.Sprintf("a%[1]d: &a%[1]d [%[2]s]\n", i, strings.TrimSuffix(strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 10), ", "))
	}
	many := func(n int, format string) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, format, i)
		}
		return b.String()
	}
	// A container that claims to be a hundred hours long.
	long := filepath.Join(dir, "captures", "long.mkv")
	h.make(t, "-i", filepath.Join(h.dir, "good.mp4"), "-c", "copy", long)
	b, err := os.ReadFile(long)
	if err != nil {
		t.Fatal(err)
	}
	lied := bytes.ReplaceAll(b, []byte("00:00:00.5"), []byte("99:00:00.5"))
	if bytes.Equal(b, lied) {
		t.Fatal("the Matroska file states no duration")
	}
	write(t, long, string(lied))

	for _, tt := range []struct {
		name, text string
		words      []string
	}{
		{"aliases", bomb + fmt.Sprintf(rest, ""), []string{"anchors such as &a0 are not used here"}},
		{"deep lists", strings.Repeat("[", 200000), []string{"error: "}},
		{"deep mappings", strings.Repeat("a: {", 100000), []string{"error: "}},
		{"deep lines", stairs(1200), []string{"error: "}},
		{"too long", strings.Repeat("# nothing\n", 200000), []string{"this is no comparison file"}},
		{"many keys", many(60000, "k%d: 1\n"), []string{"unknown key", "more mistakes follow"}},
		{"many captures", "captures: {" + many(20000, "c%d: {video: x}, ") + "}\nscenes: [{id: s}]\n", []string{"captures"}},
		{"many scenes", "captures: {a: {video: x}, b: {video: x}}\nscenes:\n" + many(20000, "  - {id: s%d}\n"), []string{"scenes"}},
		{"size", "output: {size: 100000x100000}\n" + fmt.Sprintf(rest, ""), []string{"100000x100000"}},
		{"size of digits", "output: {size: " + strings.Repeat("9", 5000) + "x2}\n" + fmt.Sprintf(rest, ""), []string{"size"}},
		{"rate", "output: {rate: 1/999999999}\n" + fmt.Sprintf(rest, ""), []string{"rate"}},
		{"rate of digits", "output: {rate: " + strings.Repeat("9", 3000) + "/" + strings.Repeat("9", 3000) + "}\n" + fmt.Sprintf(rest, ""), []string{"rate"}},
		{"length", strings.Replace(fmt.Sprintf(rest, ""), "50ms", "1000h", 1), []string{"length"}},
		{"length of a lying capture", strings.Replace(strings.ReplaceAll(fmt.Sprintf(rest, ""), "good.mp4", "long.mkv"), "50ms", "23h", 1), []string{"error: "}},
		{"start", strings.Replace(fmt.Sprintf(rest, ""), "0s", "f99999999999999999999", 1), []string{"start"}},
		{"speed", fmt.Sprintf(rest, ", speed: 1/999999999999999999999"), []string{"speed"}},
		{"exponent", fmt.Sprintf(rest, ", speed: 1e999999999"), []string{"speed"}},
		{"hold", fmt.Sprintf(rest, ", hold: ["+strings.Repeat("{at: 1ms, for: 10m}, ", 30)+"]"), []string{"hold"}},
		{"window", fmt.Sprintf(rest, ", window: {magnify: 1e308}"), []string{"magnify"}},
		{"marks", fmt.Sprintf(rest, ", marks: ["+strings.Repeat("{box: [0, 0, 1, 1]}, ", 5000)+"]"), []string{"marks"}},
		{"id climbs", strings.Replace(fmt.Sprintf(rest, ""), "id: s", "id: ../../escaped", 1), []string{"cannot name a file everywhere"}},
		{"id is absolute", strings.Replace(fmt.Sprintf(rest, ""), "id: s", "id: /tmp/escaped", 1), []string{"cannot name a file everywhere"}},
		{"key of a capture", "captures: {../x: {video: captures/good.mp4}, b: {video: captures/good.mp4}}\nscenes: [{id: s, captures: [../x, b], start: 0s, length: 50ms}]\n", []string{"../x"}},
		{"line break in a path", strings.ReplaceAll(fmt.Sprintf(rest, ""), "captures/good.mp4", "\"captures/good\\n.mp4\""), []string{"control character"}},
		{"terminal in a name", strings.ReplaceAll(fmt.Sprintf(rest, ""), "a: {", "a: {name: \"\\e[2J\", "), []string{"U+001B"}},
		{"tag of a terminal", "!%1b[2J x\n", []string{"tags such as", "\\x1b"}},
		{"tag", "!!python/object/apply:os.system [touch made]\n", []string{"error: "}},
		{"binary", "\x00\x01\x02\xff\xfe", []string{"UTF-8"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(dir, "f.yaml")
			write(t, path, tt.text)
			r := bounded(t, exec.Command(tr.program, "render", "f.yaml", "--scene", "s", "--quiet"), dir, temp)
			r.modest(t)
			r.refused(t, exitFailed, tt.words...)
			if len(r.stderr) > 20000 {
				t.Errorf("%d bytes of errors", len(r.stderr))
			}
			empty(t, temp)
			if list, err := filepath.Glob(filepath.Join(dir, "out", "*")); err != nil || len(list) > 0 {
				t.Errorf("left: %v", slices.Clip(list))
			}
		})
	}
}
