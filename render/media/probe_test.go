package media

import (
	"strings"
	"testing"
)

// TestNearPrimariesAreTold: those of BT.601 are taken as BT.709's, and a warning says so.
func TestNearPrimariesAreTold(t *testing.T) {
	for tag, words := range map[string]string{"smpte170m": "BT.601 (525 lines)", "bt470bg": "BT.601 (625 lines)", "film": "primaries film", "bt709": ""} {
		c, err := colourOf(&probedStream{Space: "bt709", Primaries: tag, Transfer: "bt709"})
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Conversion(Colour{Primaries: "bt709", Transfer: "bt709"}); !strings.Contains(got, words) || words == "" && got != "" || c.Primaries != "bt709" {
			t.Errorf("%s: primaries %s, said: %q", tag, c.Primaries, got)
		}
	}
}

func TestVersions(t *testing.T) {
	for v, ok := range map[string]bool{"5.1.9-0+deb12u1": true, "5.1": true, "6.0": true, "n7.1": true, "8.1.1": true, "N-118334-g1234": true, "2026-01-01-git": true,
		"4.4.2": false, "5.0.1": false, "n4.3": false, "3.2.19": false} {
		err := checkVersion(v)
		if (err == nil) != ok {
			t.Errorf("%s: %v", v, err)
		}
		if err != nil && !strings.Contains(err.Error(), "too old (needs 5.1 or newer)") {
			t.Errorf("%s: %v", v, err)
		}
	}
}

// TestTriedVersions: a release counts whatever its last number and its packager's suffix
// are; a build from the repository is none.
func TestTriedVersions(t *testing.T) {
	for v, want := range map[string]bool{"5.1.9-0+deb12u1": true, "5.1": true, "n7.1": true, "7.1.5-0+deb13u1": true, "9.0.2-4": true,
		"6.1.1-3ubuntu5": false, "5.10": false, "8.1": false, "N-118334-g1234": false, "2026-01-01-git": false, "": false} {
		if got := WasTried(v); got != want {
			t.Errorf("%s: %v", v, got)
		}
	}
}
