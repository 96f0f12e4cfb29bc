package main

import (
	"context"
	"fmt"

	"fairframe/render/align"
)

// runAlignScenes aligns all scenes of a comparison file.
func runAlignScenes(ctx context.Context, e *env, file string, writes bool, format string,
	o align.Options) error {
	if _, err := e.tools(); err != nil {
		return err
	}
	p, err := e.open(file)
	if err != nil {
		return err
	}
	bar := e.progress("align", "seconds")
	found, err := align.Scenes(ctx, p, o, func(done, total int64) { bar.update("", done, total) })
	bar.done()
	if err != nil {
		return err
	}
	if format == "json" {
		err = writeScenesJSON(e.stdout, found)
	} else {
		for i := range found {
			fmt.Fprintf(e.stdout, "scene %s\n", found[i].Scene.ID)
			if err = writeAlignText(e.stdout, found[i].Aligned, true, false); err != nil {
				break
			}
		}
	}
	if err != nil || !writes {
		return err
	}
	starts := map[string]map[string]string{}
	failed := false
	for i := range found {
		s, err := found[i].Starts()
		if err != nil {
			failed = true
			report(e.stderr, fmt.Errorf("scene %s keeps its starts: %w", found[i].Scene.ID, err))
			continue
		}
		starts[found[i].Scene.ID] = s
	}
	backup, err := align.WriteAllStarts(p.File, starts)
	switch {
	case err != nil:
		return err
	case backup == "":
		line(e.stderr, "written", "nothing")
	default:
		line(e.stderr, "written", fmt.Sprintf("the starts of %d of %d scenes in %s; as it was: %s",
			len(starts), len(found), file, backup))
	}
	if failed {
		return errReported
	}
	return nil
}
