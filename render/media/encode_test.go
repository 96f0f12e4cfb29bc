package media

import (
	"testing"
)

func TestTagFilter(t *testing.T) {
	for _, tt := range []struct {
		args []string
		want string
	}{
		{nil, ""},
		{[]string{"-c:v", "ffv1", "-color_range"}, ""},
		{[]string{"-color_range", "tv", "-c:v", "ffv1", "-color_range", "pc"}, "setparams=range=pc"},
		{[]string{"-colorspace", "rgb"}, "setparams=colorspace=gbr"},
		{[]string{"-color_trc", "smpte2084", "-color_primaries", "bt2020", "-colorspace", "bt2020nc", "-color_range", "tv"},
			"setparams=range=tv:colorspace=bt2020nc:color_primaries=bt2020:color_trc=smpte2084"},
	} {
		if got := TagFilter(tt.args); got != tt.want {
			t.Errorf("%q: %q, want %q", tt.args, got, tt.want)
		}
	}
}
