package record

import (
	"fmt"
	"os"
	"runtime/debug"
	"strings"
)

// Version is the program's version, as the build recorded it.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	version := info.Main.Version
	if version == "" || version == "(devel)" {
		version = "devel"
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" && len(s.Value) >= 12 {
				version += "-" + s.Value[:12]
			}
		}
	}
	return version
}

// build identifies the program by its content, if its version does not: while it
// is being developed, builds differ that bear the same version.
func build(known *Files) (string, error) {
	info, ok := debug.ReadBuildInfo()
	if ok && info.Main.Version != "" && info.Main.Version != "(devel)" &&
		!strings.Contains(info.Main.Version, "+dirty") {
		return "", nil
	}
	self, err := os.Executable()
	if err != nil {
		return "", fmt.Errorf("record: %w", err)
	}
	return known.Content(self)
}
