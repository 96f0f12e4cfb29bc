package media

import (
	"slices"
	"strings"
	"testing"
)

// The format is that of yuv4mpeg(5): a line for the stream, then a line before
// each picture.
func TestEachMono(t *testing.T) {
	for _, c := range []struct {
		name, stream string
		want         []string
		err          string
	}{
		{"two pictures", "YUV4MPEG2 W2 H2 F60:1 Ip A1:1 Cmono\nFRAME\nabcdFRAME\nefgh", []string{"abcd", "efgh"}, ""},
		{"nothing", "", nil, ""},
		{"no picture", "YUV4MPEG2 W2 H2 F60:1 Cmono\n", nil, ""},
		{"half a picture", "YUV4MPEG2 W2 H2 F60:1 Cmono\nFRAME\nab", nil, "frame 7"},
		{"another mark", "YUV4MPEG2 W2 H2 F60:1 Cmono\nFRAME\nabcdFRAMExefgh", []string{"abcd"}, "frame 8"},
		{"colour", "YUV4MPEG2 W2 H2 F60:1 C420jpeg\nFRAME\nabcdef", nil, "C420jpeg"},
		{"half a line", "YUV4MPEG2 W2", nil, "EOF"},
		{"no line", strings.Repeat("x", 1<<13), nil, "without a first line"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			next := int64(7)
			err := eachMono("made", 4, 7, func(n int64, picture *[]byte) error {
				if n != next {
					t.Errorf("picture %d came as %d", next, n)
				}
				next++
				got = append(got, string(*picture))
				*picture = []byte("room") // as a receiver that keeps what it got
				return nil
			})(strings.NewReader(c.stream))
			if !slices.Equal(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
			if c.err == "" && err != nil || c.err != "" && (err == nil || !strings.Contains(err.Error(), c.err)) {
				t.Errorf("error %v, want one with %q", err, c.err)
			}
		})
	}
}
