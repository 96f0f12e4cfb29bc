package media

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzLog reads any text as ffmpeg's log, in which hostile captures have a word. Damage lies in the scene, and what is kept of
// ffmpeg's words is one line of text without addresses.
func FuzzLog(f *testing.F) {
	for _, text := range []string{
		"[info] decoder -> ist_index:0 type:video frame_pts:29 keyframe:1 frame_type:1\n[Parsed_metadata_3 @ 0x55] [info] frame:0    pts:29      pts_time:0.5\n[h264 @ 0x55d0c0] [error] error while decoding MB 12 7, bytestream -5\n[info] decoder -> ist_index:0 type:video frame_pts:30 keyframe:0 frame_type:1\n[Parsed_metadata_3 @ 0x55] [info] frame:1    pts:30      pts_time:0.5\n",
		"[h264 @ 0x1] [error] no frame!\n[info] decoder -> ist_index:0 type:video frame_pts:0 keyframe:1 frame_type:1\n[Parsed_metadata_3 @ 0x55] [info] frame:0    pts:0      pts_time:0.5\n[hevc @ 0x2] [warning] x\n[info] decoder -> ist_index:0 type:video frame_pts:90 keyframe:1 frame_type:1\n[Parsed_metadata_3 @ 0x55] [info] frame:1    pts:90      pts_time:0.5\n",
		// From 7.1 on the decoder runs ahead.
		"[vist#0:0/h264 @ 0x5] [dec:h264 @ 0x6] [info] decoder -> pts:1 pts_time:1 keyframe:1 frame_type:1\n[h264 @ 0x7] [error] x\n[vist#0:0/h264 @ 0x5] [dec:h264 @ 0x6] [info] decoder -> pts:2 keyframe:0 frame_type:2\n[Parsed_metadata_3 @ 0x8] [info] frame:0    pts:30      pts_time:0.5\n[Parsed_metadata_3 @ 0x8] [info] frame:1    pts:31      pts_time:0.5\n",
		"[fps@leg0 @ 0x5] [verbose] 60 frames in, 30 frames out; 30 frames dropped, 0 frames duplicated.\n",
		"corrupt decoded frame in stream 0\x00\xff\x1b[2J\n",
	} {
		f.Add(text, int64(20), int64(40), uint8(2), true)
		f.Add(text, int64(0), int64(0), uint8(0), false)
	}
	f.Fuzz(func(t *testing.T, text string, first, frames int64, delay uint8, whole bool) {
		if first < 0 || frames < 1 || first > 1<<40 || frames > 1<<40 {
			t.Skip()
		}
		w := inspection{first: first, last: first + frames - 1, reach: 2 * int64(delay), whole: whole}
		var tail logTail
		drainLog(strings.NewReader(text), &tail, w.line)
		if d, _ := w.damage(); d != nil && (d.First < w.first || d.Last > w.last || d.First > d.Last || d.Complaints < 1) {
			t.Errorf("frames %d to %d, damaged %+v", w.first, w.last, *d)
		} else if d != nil && (!utf8.ValidString(d.Words) || strings.ContainsAny(d.Words, "\n\r\x1b\x00") || len(d.Words) > mostWords+len("…")) {
			t.Errorf("words %q", d.Words)
		}
		if len(tail.lines) > tailLines {
			t.Errorf("%d lines kept", len(tail.lines))
		}
		if err := explain("media: it failed", errors.New("exit status 1"), &tail); !strings.HasPrefix(err.Error(), "media: it failed") {
			t.Errorf("%v", err)
		}
	})
}

// FuzzProbed reads any JSON as what ffprobe says of a capture. One that is taken
// has a size, a rate and a count of frames that can be worked with.
func FuzzProbed(f *testing.F) {
	f.Add(`{"streams": [{"codec_type": "video", "codec_name": "h264", "width": 1920, "height": 1080, "pix_fmt": "yuv420p", "avg_frame_rate": "60/1", "r_frame_rate": "60/1", "nb_frames": "600", "has_b_frames": 2}], "format": {"start_time": "0.0", "duration": "10.0"}}`)
	f.Add(`{"streams": [{"width": 4, "height": 3, "avg_frame_rate": "19001/317", "r_frame_rate": "60000/1001", "sample_aspect_ratio": "4:3", "side_data_list": [{"rotation": -90}], "tags": {"DURATION": "00:00:12.016000000"}}], "format": {"start_time": "nan", "duration": "1e300"}}`)
	f.Add(`{"streams": [{"width": -4, "height": 1e9, "avg_frame_rate": "0/0", "has_b_frames": -1, "channels": 99, "channel_layout": "7.1"}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		var p probed
		if json.Unmarshal([]byte(text), &p) != nil || len(p.Streams) == 0 {
			return
		}
		c := Capture{Path: "a.mkv", Timecode: p.timecode()}
		for i := range p.Streams {
			c.Track.add(&p.Streams[i])
		}
		if err := c.fill(&p.Streams[0], p); err != nil {
			return
		}
		if c.uneven != nil {
			return // its stamps give the rate, or nothing does and it is refused
		}
		if c.Size.X <= 0 || c.Size.Y <= 0 || !c.Rate.Valid() || c.Frames < 0 || c.delay < 0 || c.delay > mostDelay {
			t.Errorf("%+v", c)
		}
		if shape := c.DisplaySize(); shape.X <= 0 || shape.Y <= 0 {
			t.Errorf("shape %v of %+v", shape, c)
		}
		_ = c.StampChain()
		if c.Duration() < 0 {
			t.Errorf("lasts %v", c.Duration())
		}
	})
}
