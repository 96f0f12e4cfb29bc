#!/bin/sh
# Runs the tests with each supported ffmpeg: as root on Debian, in a root of its own for each.
# usage: sh testdata/ffmpegs.sh [--only NAME,…] [--quick] [arguments of go test]
set -eu
cd "$(dirname "$0")/.."
built=$(mktemp -d)
trap 'rm -rf "$built"' EXIT
# go run would hide the exit code.
go build -buildvcs=false -o "$built/ffmpegs" ./testdata/ffmpegs
"$built/ffmpegs" "$@"
