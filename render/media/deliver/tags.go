package deliver

import (
	"context"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// Record returns the record that a clip carries of its own making, "" when it
// carries none. It is the file's word and not to be trusted further.
func Record(ctx context.Context, t *media.Tools, path string) (string, error) {
	if err := media.CheckReadable(path); err != nil {
		return "", err
	}
	var p struct {
		Format struct {
			Tags map[string]string `json:"tags"`
		} `json:"format"`
	}
	if err := t.ProbeInto(ctx, path, &p, "-show_format"); err != nil {
		return "", err
	}
	return media.Tag(p.Format.Tags, graph.RecordKey), nil
}
