#!/bin/sh
# Prints what fairframe costs, as ratios measured side by side in one run.
# usage: sh testdata/speed.sh [--rounds N] [--only NAME,…] [--sizes WxH,…] [--demo DIR] [--memory | --load]
set -eu
cd "$(dirname "$0")/.."
exec go run ./testdata/speed "$@"
