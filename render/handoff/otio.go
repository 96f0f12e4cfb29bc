package handoff

import (
	"encoding/json"
	"io"
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// The types in this file are OpenTimelineIO's, by its document "Serialized Data
// (Fields Only)". Versions are the oldest that current readers bring up to date
// by themselves, so that older ones read them too.

// double is a number that stays one with a point, as the reference library
// writes them.
type double float64

func (d double) MarshalJSON() ([]byte, error) {
	s := strconv.FormatFloat(float64(d), 'f', -1, 64)
	if math.Trunc(float64(d)) == float64(d) {
		s += ".0"
	}
	return []byte(s), nil
}

type otioTime struct {
	Schema string `json:"OTIO_SCHEMA"`
	Rate   double `json:"rate"`
	Value  double `json:"value"`
}

type otioRange struct {
	Schema   string   `json:"OTIO_SCHEMA"`
	Duration otioTime `json:"duration"`
	Start    otioTime `json:"start_time"`
}

type otioTimeline struct {
	Schema   string         `json:"OTIO_SCHEMA"`
	Metadata map[string]any `json:"metadata"`
	Name     string         `json:"name"`
	Start    otioTime       `json:"global_start_time"`
	Tracks   otioParent     `json:"tracks"`
}

// otioParent is a Stack.1 or a Track.1.
type otioParent struct {
	Schema   string         `json:"OTIO_SCHEMA"`
	Metadata map[string]any `json:"metadata"`
	Name     string         `json:"name"`
	Range    *otioRange     `json:"source_range"`
	Effects  []any          `json:"effects"`
	Markers  []any          `json:"markers"`
	Enabled  bool           `json:"enabled"`
	Kind     string         `json:"kind,omitempty"` // of a track
	Children []any          `json:"children"`
}

// otioItem is a Gap.1, or a Clip.2 if it has media.
type otioItem struct {
	Schema   string                   `json:"OTIO_SCHEMA"`
	Metadata map[string]any           `json:"metadata"`
	Name     string                   `json:"name"`
	Range    otioRange                `json:"source_range"`
	Effects  []otioWarp               `json:"effects"`
	Markers  []otioMarker             `json:"markers"`
	Enabled  bool                     `json:"enabled"`
	Media    map[string]otioReference `json:"media_references,omitempty"`
	Active   string                   `json:"active_media_reference_key,omitempty"`
}

// otioReference is an ExternalReference.1.
type otioReference struct {
	Schema    string         `json:"OTIO_SCHEMA"`
	Metadata  map[string]any `json:"metadata"`
	Name      string         `json:"name"`
	Available *otioRange     `json:"available_range"`
	Bounds    any            `json:"available_image_bounds"`
	URL       string         `json:"target_url"`
}

// otioWarp is a LinearTimeWarp.1, or a FreezeFrame.1, whose scalar is 0.
type otioWarp struct {
	Schema   string         `json:"OTIO_SCHEMA"`
	Metadata map[string]any `json:"metadata"`
	Name     string         `json:"name"`
	Effect   string         `json:"effect_name"`
	Scalar   double         `json:"time_scalar"`
}

type otioMarker struct {
	Schema   string         `json:"OTIO_SCHEMA"`
	Metadata map[string]any `json:"metadata"`
	Name     string         `json:"name"`
	Colour   string         `json:"color"`
	Comment  string         `json:"comment"`
	Range    otioRange      `json:"marked_range"`
}

// namespace is the key under which metadata of our own stands.
const namespace = "fairframe"

func own(values map[string]any) map[string]any { return map[string]any{namespace: values} }

// defaultMedia is the key of a clip's one reference.
const defaultMedia = "DEFAULT_MEDIA"

// recordHour is where a timeline begins: at one hour (common practice), so that
// there is room before it.
const recordHour = time.Hour

// otio writes the timeline as OpenTimelineIO JSON. At the bottom lies a track for
// each capture, with the stretches that the scenes show of it and marks at its
// spans and hitches; on top of them the finished clips, and their sound.
func (t *Timeline) otio(w io.Writer, folder string) error {
	doc := otioTimeline{
		Schema: "Timeline.1", Name: t.title(),
		Metadata: own(map[string]any{"version": 1, "rate": t.Rate.String()}),
		Start:    otioFrames(t.Rate, hourOf(t.Rate)),
		Tracks: otioParent{Schema: "Stack.1", Metadata: map[string]any{}, Name: "tracks", Effects: []any{},
			Markers: []any{}, Enabled: true,
			Children: []any{}},
	}
	keys, names := t.captures()
	for _, key := range keys {
		track := newTrack(names[key], "Video", own(map[string]any{"capture": key}))
		for i := range t.Scenes {
			track.Children = append(track.Children, t.otioShots(&t.Scenes[i], key, folder)...)
		}
		doc.Tracks.Children = append(doc.Tracks.Children, track)
	}
	clips := newTrack("Scenes", "Video", map[string]any{})
	sound := newTrack("Sound", "Audio", map[string]any{})
	heard := false
	for i := range t.Scenes {
		s := &t.Scenes[i]
		clips.Children = append(clips.Children, t.otioClip(s, folder))
		if s.Sound {
			heard = true
			sound.Children = append(sound.Children, t.otioClip(s, folder))
		} else {
			sound.Children = append(sound.Children, newGap(t.Rate, s.Frames))
		}
	}
	doc.Tracks.Children = append(doc.Tracks.Children, clips)
	if heard {
		doc.Tracks.Children = append(doc.Tracks.Children, sound)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "    ")
	return enc.Encode(doc)
}

func newTrack(name, kind string, metadata map[string]any) *otioParent {
	return &otioParent{Schema: "Track.1", Metadata: metadata, Name: name, Effects: []any{}, Markers: []any{},
		Enabled: true, Kind: kind, Children: []any{}}
}

func newGap(r pacing.Rate, frames int64) otioItem {
	return otioItem{Schema: "Gap.1", Metadata: map[string]any{},
		Range:   newRange(otioFrames(r, 0), otioFrames(r, frames)),
		Effects: []otioWarp{}, Markers: []otioMarker{}, Enabled: true}
}

func newRange(start, duration otioTime) otioRange { return otioRange{"TimeRange.1", duration, start} }

func otioFrames(r pacing.Rate, n int64) otioTime {
	return otioTime{"RationalTime.1", double(r.Hz()), double(n)}
}

// otioClip is the finished clip of a scene.
func (t *Timeline) otioClip(s *Scene, folder string) otioItem {
	about := map[string]any{"scene": s.ID}
	if s.Caption != "" {
		about["caption"] = s.Caption
	}
	return otioItem{
		Schema: "Clip.2", Metadata: own(about), Name: s.ID,
		Range:   newRange(otioFrames(s.Clip.Rate, s.Clip.label(0)), otioFrames(t.Rate, s.Frames)),
		Effects: []otioWarp{}, Markers: []otioMarker{}, Enabled: true,
		Media: map[string]otioReference{defaultMedia: s.Clip.reference(folder)}, Active: defaultMedia,
	}
}

// otioShots are a scene's runs of one capture, and gaps where it is not seen.
func (t *Timeline) otioShots(s *Scene, key, folder string) []any {
	var list []any
	at := int64(0)
	if shot, ok := s.shot(key); ok {
		for _, r := range shot.Runs {
			if r.At > at {
				list = append(list, newGap(t.Rate, r.At-at))
			}
			list = append(list, t.otioRun(s, shot, r, folder))
			at = r.At + r.Frames
		}
	}
	if at < s.Frames {
		list = append(list, newGap(t.Rate, s.Frames-at))
	}
	return list
}

// otioRun is one run of a capture. Its range begins at a frame of the capture and
// lasts as long as the run does in the clip: that is how OpenTimelineIO counts
// time warps.
func (t *Timeline) otioRun(s *Scene, shot *Shot, r Run, folder string) otioItem {
	c := shot.Capture
	item := otioItem{
		Schema: "Clip.2", Name: shot.Name + ", " + s.ID,
		Metadata: own(map[string]any{"scene": s.ID, "capture": shot.Key, "start_s": r.From.Seconds()}),
		Range:    newRange(otioFrames(c.Rate, c.label(c.Rate.FrameAt(r.From))), otioFrames(t.Rate, r.Frames)),
		Effects:  []otioWarp{}, Markers: []otioMarker{}, Enabled: true,
		Media: map[string]otioReference{defaultMedia: c.reference(folder)}, Active: defaultMedia,
	}
	scalar, _ := r.speed().Float64()
	switch {
	case r.held():
		item.Effects = append(item.Effects,
			otioWarp{"FreezeFrame.1", map[string]any{}, "held", "FreezeFrame", 0})
	case scalar != 1:
		item.Effects = append(item.Effects,
			otioWarp{"LinearTimeWarp.1", map[string]any{}, "speed", "LinearTimeWarp", double(scalar)})
	}
	for _, m := range shot.Marks {
		a, b, ok := r.within(m.From, m.To, t.Rate)
		if !ok {
			continue
		}
		from := nearest(c.Rate, a)
		frames := max(1, nearest(c.Rate, b)-from)
		kind, colour := "span", "CYAN"
		if m.Kind == Hitch {
			kind, colour = "hitch", "RED"
		}
		item.Markers = append(item.Markers, otioMarker{
			Schema: "Marker.2", Name: m.Name, Colour: colour, Comment: m.Words,
			Metadata: own(map[string]any{"kind": kind, "from_s": m.From.Seconds(), "to_s": m.To.Seconds()}),
			Range:    newRange(otioFrames(c.Rate, c.label(from)), otioFrames(c.Rate, frames)),
		})
	}
	return item
}

// label is how many frames into its time code a frame of the file lies.
func (m Media) label(n int64) int64 { return m.First + n }

// reference names the file, from a folder.
func (m Media) reference(folder string) otioReference {
	ref := otioReference{Schema: "ExternalReference.1", Metadata: map[string]any{},
		URL: urlOf(relative(folder, m.Path))}
	if m.Frames > 0 {
		available := newRange(otioFrames(m.Rate, m.label(0)), otioFrames(m.Rate, m.Frames))
		ref.Available = &available
	}
	return ref
}

// urlOf makes a path a URL: a relative one stays relative.
func urlOf(path string) string {
	parts := strings.Split(path, "/")
	for i, p := range parts {
		parts[i] = url.PathEscape(p)
	}
	escaped := strings.Join(parts, "/")
	switch {
	case strings.HasPrefix(path, "/"):
		return "file://" + escaped
	case len(path) > 2 && path[1:3] == ":/": // a drive
		return "file:///" + path[:2] + escaped[strings.Index(escaped, "/"):]
	case strings.Contains(parts[0], ":"):
		return "./" + escaped // or it would be taken for a scheme
	}
	return escaped
}

// hourOf is the number of the frame whose label is one hour.
func hourOf(r pacing.Rate) int64 {
	n, _, err := recordStart(r)
	if err != nil {
		return r.FrameAt(recordHour)
	}
	return n
}
