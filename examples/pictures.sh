#!/bin/sh
# Makes the pictures of examples/README.md again:
#
#   sh examples/pictures.sh
#
# It builds fairframe, makes the demo's captures, previews one moment of each scene
# of views.yaml and lets ffmpeg shrink it. A minute or two.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
(cd "$here/.." && go build -o "$work/fairframe" ./cmd/fairframe)
"$work/fairframe" demo "$work" --size 1920x1080 --length 3s --quiet >&2
cp "$here/views.yaml" "$work/views.yaml"
mkdir -p "$here/pictures"
sed -n 's/^  - id: //p' "$work/views.yaml" | while read -r id; do
	at=150ms
	case $id in slow) at=900ms ;; esac # while it is held
	"$work/fairframe" preview "$work/views.yaml" --scene "$id" --at $at -o "$work/$id.png" --quiet >&2
	ffmpeg -v error -nostdin -y -i "$work/$id.png" -vf scale=480:-2:flags=area -q:v 6 -pix_fmt yuvj420p "$here/pictures/$id.jpg"
	printf '%s\n' "$here/pictures/$id.jpg"
done
"$work/fairframe" preview "$work/views.yaml" --scene marks --at title -o "$work/title.png" --quiet >&2
ffmpeg -v error -nostdin -y -i "$work/title.png" -vf scale=480:-2:flags=area -q:v 6 -pix_fmt yuvj420p "$here/pictures/title.jpg"
