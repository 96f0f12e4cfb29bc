#!/bin/sh
# From nothing but Go to a first clip:
#
#   sh examples/quickstart.sh [FOLDER]
#
# Installs ffmpeg through the system's package manager if it is missing (or says
# how), builds fairframe, makes captures of a made-up game, and renders a scene of
# them. All goes into FOLDER, ./demo unless named; it takes about a minute.
# QUICKSTART_SIZE=640x360 and QUICKSTART_LENGTH=4s make less of everything.
set -eu

here=$(cd "$(dirname "$0")/.." && pwd)
folder=${1:-demo}
size=${QUICKSTART_SIZE:-1920x1080}
length=${QUICKSTART_LENGTH:-}
scene=forest

say() { printf '%s\n' "$*" >&2; }
has() { command -v "$1" >/dev/null 2>&1; }
has_ffmpeg() { has ffmpeg && has ffprobe; }

# as_root runs a command as root, through sudo where it must.
as_root() {
	if [ "$(id -u)" -eq 0 ]; then
		"$@"
	elif has sudo; then
		say "needs root: sudo $*"
		sudo "$@"
	else
		return 1
	fi
}

install_ffmpeg() {
	if has apt-get; then
		as_root apt-get update -q >&2 && as_root apt-get install -y -q --no-install-recommends ffmpeg >&2
	elif has dnf; then
		as_root dnf install -y ffmpeg-free >&2
	elif has pacman; then
		as_root pacman -S --noconfirm ffmpeg >&2
	elif has zypper; then
		as_root zypper --non-interactive install ffmpeg >&2
	elif has apk; then
		as_root apk add ffmpeg >&2
	elif has brew; then
		brew install ffmpeg >&2
	else
		return 1
	fi
}

if ! has go; then
	say "error: Go is missing"
	say "hint: see https://go.dev/doc/install"
	exit 1
fi
if ! has_ffmpeg; then
	say "ffmpeg is missing; installing it"
	install_ffmpeg || true
	if ! has_ffmpeg; then
		say "error: ffmpeg and ffprobe are missing and could not be installed from here"
		say "hint: Linux: install the package ffmpeg; macOS: brew install ffmpeg; Windows: winget install ffmpeg"
		exit 1
	fi
fi

mkdir -p "$folder/bin"
program=$folder/bin/fairframe$(go env GOEXE)
say "building $program"
# The version control of a clone that belongs to someone else refuses to answer;
# the program then goes without its revision.
bin=$(cd "$folder/bin" && pwd)/$(basename "$program")
(cd "$here" && { go build -o "$bin" ./cmd/fairframe 2>/dev/null || go build -buildvcs=false -o "$bin" ./cmd/fairframe; })

say "making captures of a made-up game in $folder"
set -- demo "$folder" --size "$size"
if [ -n "$length" ]; then
	set -- "$@" --length "$length"
fi
"$program" "$@"

say "rendering its scene $scene"
case $program in
/*) ;;
*) program=./$program ;;
esac
"$program" render "$folder/comparison.yaml" --scene "$scene"

say
say "The clip is $(cd "$folder/out" && pwd)/$scene.mp4. The other scenes:"
say "  $program batch $folder/comparison.yaml"
