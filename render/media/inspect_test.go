package media

import "testing"

// TestHarmlessWords: each kind of harmless line has lines as ffmpeg 5.1, 7.1 or 9.0 prints
// them, and what decoders say of damaged pictures is none of them.
func TestHarmlessWords(t *testing.T) {
	said := map[int][]string{
		0: {"[ffv1 @ 0x5581] [warning] bits_per_raw_sample > 8, forcing range coder"},
		1: {"[aac @ 0x5581] [warning] Multiple frames in a packet.", "[opus @ 0x5581] [warning] Could not update timestamps for skipped samples."},
		2: {"[matroska @ 0x5581] [warning] Starting new cluster due to timestamp", "[mpegts @ 0x5581] [warning] Packet corrupt (stream = 0, dts = 132300)."},
		3: {"[swscaler @ 0x5581] [warning] the scaler complains", "[auto_scale_0 @ 0x5581] [warning] it scales"},
		4: {"[sws @ 0x5581] [warning] No accelerated colorspace conversion found from yuv420p to bgr24.", "[swscale @ 0x5581] [warning] deprecated pixel format used, make sure you did set range correctly"},
	}
	for i, h := range harmless {
		if len(said[i]) == 0 || h.why == "" {
			t.Errorf("%v: no line, or no reason", h.words)
		}
		for _, line := range said[i] {
			if !h.words.MatchString(line) || !decodeTrouble.MatchString(line) || IsDecodeTrouble(line) {
				t.Errorf("%q is not taken for harmless by %v", line, h.words)
			}
		}
	}
	for _, line := range []string{
		"[h264 @ 0x5581] [error] error while decoding MB 12 7, bytestream -5",
		"[hevc @ 0x5581] [error] CABAC_MAX_BIN : 7",
		"[mjpeg @ 0x5581] [error] overread 8",
		"[mjpeg @ 0x5581] [warning] EOI missing, emulating",
		"[ffv1 @ 0x5581] [error] slice CRC mismatch 4A9B3C7D!",
		"[prores @ 0x5581] [error] Error decoding picture header",
		"[vp9 @ 0x5581] [error] Invalid frame marker",
		"[libdav1d @ 0x5581] [error] Error parsing OBU data",
		"[av1 @ 0x5581] [error] Failed to parse temporal unit.",
		"[info] somewhere: corrupt decoded frame in stream 0",
	} {
		if !IsDecodeTrouble(line) {
			t.Errorf("%q is taken for harmless", line)
		}
	}
}
