package record

import "fmt"

// Tolerated is damage of a capture that a clip shows because its scene tolerates
// decode errors: a decoder makes up what it lacks, and no picture is missing. Or it is
// a gap, because the scene tolerates those: pictures that the recorder dropped.
type Tolerated struct {
	Kind       string  `json:"kind,omitempty"` // gap, of pictures that a recorder dropped; "": damage
	Capture    string  `json:"capture"`
	First      int64   `json:"first_frame"` // of the capture's frames that may be wrong
	Last       int64   `json:"last_frame"`
	From       float64 `json:"from_s"` // in the capture's time
	To         float64 `json:"to_s"`
	SceneFrom  float64 `json:"scene_from_s"` // in the scene's own time
	SceneTo    float64 `json:"scene_to_s"`
	Complaints int     `json:"complaints"`         // of ffmpeg
	Words      string  `json:"ffmpeg"`             // the first of them
	Pictures   int64   `json:"pictures,omitempty"` // that a gap lacks
	Pacing     string  `json:"pacing,omitempty"`   // what is known of it in a gap; "": none is shown
}

// Gap is the kind of what a recorder dropped.
const Gap = "gap"

// What is known of the pacing in a gap.
const (
	PacingUnknown = "unknown"
	PacingLogged  = "logged" // by something else than the capture's pictures
)

// String tells of the damage in one line.
func (t Tolerated) String() string {
	if t.Kind == Gap {
		known := map[string]string{PacingUnknown: ", and the pacing there is not known",
			PacingLogged: ", and the pacing there is its log's"}[t.Pacing]
		pictures := "1 picture"
		if t.Pictures != 1 {
			pictures = fmt.Sprintf("%d pictures", t.Pictures)
		}
		return fmt.Sprintf("capture %s has a gap: its recorder dropped %s (%.2f s to %.2f s; %.2f s to "+
			"%.2f s of the scene); the one before is shown%s",
			t.Capture, pictures, t.From, t.To, t.SceneFrom, t.SceneTo, known)
	}
	which, times := fmt.Sprintf("frames %d to %d", t.First, t.Last), "complaints"
	if t.First == t.Last {
		which = fmt.Sprintf("frame %d", t.First)
	}
	if t.Complaints == 1 {
		times = "complaint"
	}
	return fmt.Sprintf("capture %s is damaged: %s (%.2f s to %.2f s; %.2f s to %.2f s of the scene) "+
		"may be made up by the decoder; %d %s of ffmpeg, the first: %s",
		t.Capture, which, t.From, t.To, t.SceneFrom, t.SceneTo, t.Complaints, times, t.Words)
}
