// Package demo makes captures of a game that does not exist: Kestrel Pass, the
// flight of a glider past a lake and mountains, as played on three made-up
// machines that differ in resolution and in pacing. Everything is drawn and
// simulated here, so the pacing logs are not measured: they are the very
// schedules by which the captures were made.
//
// The same options give the same bits, on the same machine with the same
// ffmpeg.
package demo

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// Options say what to make. The zero value makes the full demo.
type Options struct {
	Length   time.Duration // of each capture, at least MinLength; 0 stands for DefaultLength
	Seed     uint64        // of the land and of what slows the machines down
	Size     image.Point   // of the captures, even, each side 128 to 4096; zero stands for 1920x1080
	CRF      int           // constant rate factor of the video, 1 to 51; 0 stands for the default
	Lossless bool          // encodes without loss, whatever CRF says
	// Progress, if set, is called after each captured frame that was encoded,
	// from one goroutine at a time.
	Progress func(done, total int)
}

// Lengths of a capture.
const (
	DefaultLength = 10 * time.Second
	MinLength     = 2 * time.Second
	MaxLength     = time.Hour
)

const defaultCRF = 23

// Result says what was made.
type Result struct {
	Comparison string // path of the comparison file
	Captures   []Capture
}

// Capture is one of the captures that were made, with the truth about it.
type Capture struct {
	Key    string // its name in the comparison file
	Video  string // path
	Log    string // path of its pacing log
	Size   image.Point
	Raster image.Point // that the machine rendered at
	Count  int64       // of captured frames
	// Lead is the game time at the capture's first frame: what a capture shows
	// at t, another shows at t + its own lead less the other's.
	Lead   time.Duration
	Frames []pacing.Frame // of the game, from the first captured frame to the last
	// Marks are the capture times of the sounds that stand out of the wind.
	Marks []time.Duration
}

// KeptError says that a file was not written, because one of that name is there
// that the demo did not make, or that was changed since.
type KeptError struct{ Path string }

func (e *KeptError) Error() string {
	return fmt.Sprintf("demo: %s is there already and is not an unchanged part of a demo", e.Path)
}

// Hints returns what to do about it.
func (e *KeptError) Hints() []string {
	return []string{"choose an empty folder, or move the file"}
}

// complete fills in the defaults and checks the rest.
func (o Options) complete() (Options, error) {
	if o.Length == 0 {
		o.Length = DefaultLength
	}
	if o.Size == (image.Point{}) {
		o.Size = image.Pt(1920, 1080)
	}
	if o.CRF == 0 {
		o.CRF = defaultCRF
	}
	switch {
	case o.Length < MinLength || o.Length > MaxLength:
		return o, fmt.Errorf("demo: length %v is outside %v to %v", o.Length, MinLength, MaxLength)
	case o.Size.X < 128 || o.Size.Y < 128 || o.Size.X > 4096 || o.Size.Y > 4096:
		return o, fmt.Errorf("demo: size %dx%d has a side outside 128 to 4096", o.Size.X, o.Size.Y)
	case o.Size.X%2 != 0 || o.Size.Y%2 != 0:
		return o, fmt.Errorf("demo: size %dx%d has an odd side", o.Size.X, o.Size.Y)
	case o.CRF < 1 || o.CRF > 51:
		return o, fmt.Errorf("demo: constant rate factor %d is outside 1 to 51", o.CRF)
	}
	return o, nil
}

// leg is how long a leg of the flight takes in a capture of that length. Short
// captures hurry through the machines' ups and downs, so that they show all of
// them; the land passes by at the same speed.
func (o Options) leg() time.Duration {
	return time.Duration(float64(min(o.Length, DefaultLength)) * legTime / DefaultLength.Seconds())
}

// Write makes the demo in the folder dir, which is made if it is missing:
// dir/captures with a video and a pacing log for each machine, and
// dir/comparison.yaml. Nothing appears under its name before all is complete.
//
// Files of an earlier demo are replaced as long as its comparison.yaml is
// unchanged. Any other file of a name that is needed is kept, and the error is
// a *KeptError.
func Write(ctx context.Context, tools *media.Tools, dir string, o Options) (Result, error) {
	return write(ctx, tools, dir, o, newWorld)
}

// write is Write with the world from build, which takes newWorld's arguments.
func write(ctx context.Context, tools *media.Tools, dir string, o Options,
	build func(uint64) *world) (r Result, err error) {
	o, err = o.complete()
	if err != nil {
		return Result{}, err
	}
	all := machines()
	if err := mayWrite(dir, all); err != nil {
		return Result{}, err
	}
	made, err := makeFolder(dir)
	if err != nil {
		return Result{}, fmt.Errorf("demo: %w", err)
	}
	defer func() {
		if err != nil && made != "" {
			os.RemoveAll(made)
		}
	}()
	temp, err := scratch.Mkdir(dir, ".demo-*.part")
	if err != nil {
		return Result{}, fmt.Errorf("demo: %w", err)
	}
	defer os.RemoveAll(temp)

	m := maker{ctx: ctx, tools: tools, o: o, temp: temp, leg: o.leg()}
	m.total = len(all) * int(captureRate().FramesIn(o.Length))
	if err := m.prepare(all, build); err != nil {
		return Result{}, err
	}
	for i := range all {
		c, err := m.make(&all[i])
		if err != nil {
			return Result{}, err
		}
		c.Video = filepath.Join(dir, "captures", all[i].file)
		c.Log = filepath.Join(dir, "captures", all[i].log)
		r.Captures = append(r.Captures, c)
	}
	r.Comparison = filepath.Join(dir, comparisonName)
	text := comparisonText(o, all)
	if err := os.WriteFile(filepath.Join(temp, comparisonName), []byte(text), 0o666); err != nil {
		return Result{}, fmt.Errorf("demo: %w", err)
	}
	if err := ctx.Err(); err != nil {
		return Result{}, err
	}
	return r, m.publish(dir, all)
}

// publish gives the complete files their names, the comparison file last.
func (m *maker) publish(dir string, all []machine) error {
	if err := os.MkdirAll(filepath.Join(dir, "captures"), 0o777); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	for _, name := range fileNames(all) {
		if err := os.Rename(filepath.Join(m.temp, filepath.Base(name)),
			filepath.Join(dir, name)); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
	}
	return nil
}

// fileNames lists what the demo writes, relative to its folder.
func fileNames(all []machine) []string {
	var list []string
	for i := range all {
		list = append(list, filepath.Join("captures", all[i].file), filepath.Join("captures", all[i].log))
	}
	return append(list, comparisonName)
}

// mayWrite refuses to write over what is not the demo's own.
func mayWrite(dir string, all []machine) error {
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return fmt.Errorf("demo: %s is no folder", dir)
	}
	text, err := os.ReadFile(filepath.Join(dir, comparisonName))
	switch {
	case err == nil && unchanged(string(text)):
		return nil
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("demo: %w", err)
	}
	for _, name := range fileNames(all) {
		path := filepath.Join(dir, name)
		if _, err := os.Lstat(path); err == nil {
			return &KeptError{path}
		}
	}
	return nil
}

// makeFolder makes dir and returns the topmost folder that was missing, or "".
func makeFolder(dir string) (made string, err error) {
	for p := filepath.Clean(dir); ; p = filepath.Dir(p) {
		if _, err := os.Stat(p); err == nil || filepath.Dir(p) == p {
			break
		}
		made = p
	}
	return made, os.MkdirAll(dir, 0o777)
}

// maker makes the captures of one demo.
type maker struct {
	ctx         context.Context
	tools       *media.Tools
	o           Options
	temp        string
	leg         time.Duration
	world       *world
	sound       sound
	done, total int
}

// prepare builds what all captures share.
func (m *maker) prepare(all []machine, build func(uint64) *world) error {
	if err := m.ctx.Err(); err != nil {
		return err
	}
	m.world = build(m.o.Seed)
	var last time.Duration
	for i := range all {
		last = max(last, all[i].lead)
	}
	var err error
	m.sound, err = newSound(m.ctx, m.o.Seed, m.leg, m.o.Length+last)
	return err
}

// timeGrid is what scenes are rounded to, and leads are multiples of: three
// frames at 60 Hz, so that they are whole frames and short decimals.
const timeGrid = 50 * time.Millisecond

// make makes one machine's capture and log in the temporary folder.
func (m *maker) make(mc *machine) (Capture, error) {
	d := director{leg: m.leg, lead: mc.lead, frames: captureRate().FramesIn(m.o.Length), rows: m.o.Size.Y}
	list := mc.show(m.o.Seed, d)
	c := Capture{Key: mc.key, Size: m.o.Size, Raster: mc.rasterFor(m.o.Size), Count: d.frames, Lead: d.lead,
		Frames: frames(list, d)}
	for _, e := range landmarks(m.leg, d.lead+m.o.Length) {
		if e.at >= d.lead {
			c.Marks = append(c.Marks, e.at-d.lead)
		}
	}
	if err := writeLog(filepath.Join(m.temp, mc.log), mc, m.o, c); err != nil {
		return c, fmt.Errorf("demo: %w", err)
	}
	wav := filepath.Join(m.temp, mc.key+".wav")
	if err := m.writeSound(wav, d.lead, mc.gain); err != nil {
		return c, fmt.Errorf("demo: %w", err)
	}
	defer os.Remove(wav)
	spec := media.EncodeSpec{
		Out: filepath.Join(m.temp, mc.file), Size: m.o.Size, PixFmt: "yuv420p", Rate: captureRate(), Sound: wav,
		Args: append(m.videoArgs(), mc.encode...),
	}
	err := m.tools.Encode(m.ctx, spec, func(w io.Writer) error { return m.film(w, c) })
	if err != nil {
		return c, err
	}
	return c, nil
}

func (m *maker) writeSound(path string, from time.Duration, gain float64) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := m.sound.writeWAV(f, from, m.o.Length, gain); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// videoArgs are the encoder's arguments: quick, the same bits each time, and
// tagged.
func (m *maker) videoArgs() []string {
	quality := []string{"-crf", fmt.Sprint(m.o.CRF)}
	if m.o.Lossless {
		quality = []string{"-qp", "0"}
	}
	args := []string{
		"-c:v", "libx264", "-preset", "superfast", "-bf", "0", "-pix_fmt", "yuv420p", "-g", "60", "-threads", "2",
		"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv",
		"-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact", "-map_metadata", "-1",
	}
	return append(args, quality...)
}
