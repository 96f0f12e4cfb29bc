#!/bin/sh
# Records a moving 3D program at three paces, stores each recording as six encoders would,
# and prints what measuring makes of them beside the truth, which bar codes in the pictures tell.
# Needs gcc, ffmpeg and Debian's packages xvfb, mesa-utils, libgl-dev, libegl-dev.
# usage: sh testdata/recordings.sh [DIR [SECONDS]]
#   DIR      where the recordings are kept; those that are there are not made again
#            (default: a folder that is removed at the end)
#   SECONDS  length of each recording (default 10)
set -eu
cd "$(dirname "$0")/.."
dir=${1:-} seconds=${2:-10}
if [ -z "$dir" ]; then
	dir=$(mktemp -d)
	trap 'rm -rf "$dir"' EXIT
fi
mkdir -p "$dir"
dir=$(cd "$dir" && pwd)
size=640x360

record() { # NAME PACE JITTER
	[ -s "$dir/$1.lossless.mkv" ] && return
	gcc -O2 -shared -fPIC -o "$dir/pace.so" testdata/recordings/pace.c -ldl -lGL
	mkfifo "$dir/display"
	Xvfb -displayfd 1 -screen 0 ${size}x24 -nolisten tcp >"$dir/display" 2>/dev/null &
	server=$!
	read -r display <"$dir/display"
	rm "$dir/display"
	DISPLAY=:$display LD_PRELOAD="$dir/pace.so" PACE=$2 JITTER=$3 SWAPS="$dir/$1.swaps.csv" \
		glxgears -geometry $size >/dev/null 2>&1 &
	program=$!
	sleep 2
	# Lossless: the truth is read from it, and all others are made of it.
	ffmpeg -v error -f x11grab -framerate 60 -video_size $size -draw_mouse 0 -i ":$display" -t "$seconds" \
		-fps_mode cfr -r 60 -c:v libx264 -preset ultrafast -qp 0 -pix_fmt yuv420p -y "$dir/part.mkv" || true
	kill $program $server
	wait $program $server 2>/dev/null || true
	mv "$dir/part.mkv" "$dir/$1.lossless.mkv"
}

encode() { # NAME ENCODER ARGUMENTS…
	name=$1 encoder=$2
	shift 2
	for bars in bars bare; do
		[ -s "$dir/$name.$encoder.$bars.mkv" ] && continue
		paint=null
		[ $bars = bare ] && paint=drawbox=0:0:264:24:black:fill
		ffmpeg -v error -i "$dir/$name.lossless.mkv" -vf "$paint$scale" "$@" -pix_fmt yuv420p -y "$dir/part.mkv"
		mv "$dir/part.mkv" "$dir/$name.$encoder.$bars.mkv"
	done
}

record unlocked 20100 4000
record 30 33333 0
record 30-20 33333,50000 0
for pace in unlocked 30 30-20; do
	scale=
	encode $pace exact -c:v libx264 -preset ultrafast -qp 0
	encode $pace ultrafast20 -c:v libx264 -preset ultrafast -crf 20
	encode $pace veryfast23 -c:v libx264 -preset veryfast -crf 23
	encode $pace hevc26 -c:v libx265 -preset ultrafast -crf 26 -x265-params log-level=error
	encode $pace mjpeg -c:v mjpeg -q:v 5 -color_range pc
	scale=,scale=1920:1080:flags=bicubic
	encode $pace scaled20 -c:v libx264 -preset veryfast -crf 20
done
FAIRFRAME_RECORDINGS=$dir go test -count 1 -v -run 'TestRecordings' ./render/measure
