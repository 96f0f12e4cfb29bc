package render

import (
	"context"

	"fairframe/render/media"
)

// Draw draws the evidence into a PNG file.
func (a *Aligned) Draw(ctx context.Context, tools *media.Tools, path string) error { return nil }
