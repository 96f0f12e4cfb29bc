package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// Variables that tell the played ffmpeg how to fail and where the real one is.
const (
	failureVar = "PLAYED_FAILURE"
	realVar    = "REAL_FFMPEG_FOLDER"
)

// play is ffmpeg or ffprobe with one failure; all else is passed on to the real
// program. Its words are those of the real one.
func play(name, failure string, args []string) int {
	about := slices.Contains(args, "-encoders")
	renders := name == "ffmpeg" && slices.Contains(args, "-filter_complex") && slices.Contains(args, "-progress")
	switch {
	case failure == "old" && about:
		fmt.Fprintln(os.Stderr, "ffmpeg version 4.4.2-0 Copyright (c) 2000-2021 the FFmpeg developers")
		return 0
	case failure == "stranger" && about:
		fmt.Fprintln(os.Stderr, "stranger 1.0")
		return 0
	case failure == "untried" && about:
		fmt.Fprintln(os.Stderr, "ffmpeg version N-118334-g0123456789 Copyright (c) 2000-2026 the FFmpeg developers")
		cmd := exec.Command(filepath.Join(os.Getenv(realVar), name), "-v", "error", "-encoders")
		cmd.Stdout = os.Stdout
		if cmd.Run() != nil {
			return 9
		}
		return 0
	case failure == "lacks-encoder" && about:
		fmt.Fprintln(os.Stderr, "ffmpeg version 5.1.9 Copyright (c) 2000-2026 the FFmpeg developers")
		fmt.Print("Encoders:\n V..... = Video\n ------\n V....D mpeg4                MPEG-4 part 2\n")
		return 0
	case !renders:
		return passOn(name, args)
	}
	part := strings.TrimPrefix(args[len(args)-1], "file:")
	switch failure {
	case "half-way":
		// As when the process is shot: something is written, then nothing.
		_ = os.WriteFile(part, make([]byte, 5000), 0o644)
		fmt.Print("frame=3\nprogress=continue\n")
		fmt.Fprintln(os.Stderr, "[h264 @ 0x55d0c0] [error] error while decoding MB 12 7, bytestream -5")
		return 1
	case "disk-full":
		fmt.Fprintln(os.Stderr, "[error] av_interleaved_write_frame(): No space left on device")
		return 1
	case "no-encoder":
		fmt.Fprintln(os.Stderr, "[error] Unknown encoder 'libx264'")
		return 1
	case "does-nothing":
		return 0
	case "loses-frames":
		// All is said to be well, but the file is short.
		if code := passOn(name, args); code != 0 {
			return code
		}
		whole := part + ".whole"
		if err := os.Rename(part, whole); err != nil {
			return 9
		}
		defer os.Remove(whole)
		return passOn(name, []string{"-y", "-v", "error", "-nostdin", "-i", "file:" + whole, "-c", "copy", "-frames:v", "5", "-f", "mp4", "file:" + part})
	}
	fmt.Fprintf(os.Stderr, "no failure is called %q\n", failure)
	return 9
}

// passOn runs the real program.
func passOn(name string, args []string) int {
	cmd := exec.Command(filepath.Join(os.Getenv(realVar), name), args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, os.Stdout, os.Stderr
	if err := cmd.Run(); err != nil {
		return max(1, cmd.ProcessState.ExitCode())
	}
	return 0
}
