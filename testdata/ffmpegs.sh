#!/bin/sh
# Runs the tests with each supported ffmpeg: as root on Debian, in a root of its own for each.
# usage: sh testdata/ffmpegs.sh [--only NAME,…] [--quick] [arguments of go test]
set -eu
cd "$(dirname "$0")/.."
exec go run ./testdata/ffmpegs "$@"
