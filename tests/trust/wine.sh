#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Tries a cross-built program under wine against the one built here: wine.sh MELTLAG.EXE MELTLAG
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
other=$(realpath "$1") here=$(realpath "$2")
scratch=$(mktemp -d "${TMPDIR:-/tmp}/meltlag-wine.XXXXXX")
trap 'rm -rf "$scratch"' EXIT
export WINEPREFIX=$scratch/prefix WINEDEBUG=-all WINEDLLOVERRIDES='mscoree,mshtml=' LC_ALL=C.UTF-8
fail() { echo "FAULT: $*" >&2; cat said >&2 || true; exit 1; }
there() { wine "$other" "$@" 2>said; }

folder="$scratch/Füße und Clips"
mkdir "$folder"
cd "$folder"
cp "$root/samples/numbered-absolute.gcode" 'Füße 1.gcode'
cp "$root/samples/cable-clip-arcs.gcode" clip.gcode
cat >'Förderer.toml' <<'PROFILE'
[lag]
run_on_mm3 = 5
at_flow_mm3_s = 5
flow_index = 0.6
[machine]
acceleration_mm_s2 = 800
corner_rule = "jump"
corner_jump_mm_s = { x = 10, y = 10, z = 0.4, e = 5 }
max_speed_mm_s = { x = 300, y = 300, z = 20, e = 60 }
max_acceleration_mm_s2 = { x = 9000, y = 9000, z = 500, e = 5000 }
[limits]
max_flow_mm3_s = 15
PROFILE

there --version | grep -q '^meltlag' || fail 'no version'
for file in 'Füße 1.gcode' clip.gcode; do
  there adapt "$file" --profile 'Förderer.toml' --output 'there.gcode' --quiet || fail "adapt $file"
  "$here" adapt "$file" --profile 'Förderer.toml' --output 'here.gcode' --quiet
  cmp there.gcode here.gcode || echo "other last digits in $file" >&2
  "$here" predict there.gcode --original "$file" --profile 'Förderer.toml' >/dev/null ||
    fail "what was written from $file is not its path"
  there predict "$file" --profile 'Förderer.toml' >figures || fail predict
  "$here" predict "$file" --profile 'Förderer.toml' | diff - figures || fail 'other figures'
  there inspect "$file" --profile 'Förderer.toml' >seen || fail inspect
  "$here" inspect "$file" --profile 'Förderer.toml' | diff - seen || fail 'sees something else'
  status=0
  there diff "$file" there.gcode --profile 'Förderer.toml' >moves || status=$?
  [[ $status -eq 1 ]] || fail "diff ended with status $status"
  rm there.gcode here.gcode
done
cp "$root/profiles/bench-auger-printed.toml" 'Schnecke 1.toml'
cp -r "$root/profiles/materials" .
printf 'gcode_line;width_mm\n20;0,8\n30;0,7\n' >'Maße.csv'
same() {
  there "$@" >figures || fail "$1"
  "$here" "$@" | diff - figures || fail "$1 says something else"
}
same causes 'Schnecke 1.toml' --file clip.gcode
same builds 'Schnecke 1.toml' 'Schnecke 1.toml'
same compare clip.gcode 'Maße.csv' --profile 'Förderer.toml' --layer-height 0.3
there adapt clip.gcode --profile 'Förderer.toml' --side-by-side --bed-x 220 --output 'beide Füße.gcode' \
  --report 'Füße.html' --quiet || fail 'no job side by side'
[[ -s 'beide Füße.gcode.ticks.csv' && -s 'Füße.html' ]] || fail 'no tick sheet or page'
status=0
there calibrate print || status=$?
[[ $status -eq 1 ]] || fail "calibrate ended with status $status"
there adapt 'Füße 1.gcode' --profile 'Förderer.toml' --output - --quiet >piped.gcode || fail 'no pipe'
there adapt --profile 'Förderer.toml' --in-place --keep-original 'Füße 1.gcode' || fail 'not in place'
cmp 'Füße 1.gcode' piped.gcode || fail 'in place is not what goes through a pipe'
cmp 'Füße 1.gcode.as-sliced' "$root/samples/numbered-absolute.gcode" || fail 'the original is not kept'
status=0
there adapt --profile 'Förderer.toml' --in-place 'Füße 1.gcode' || status=$?
[[ $status -eq 1 ]] || fail "adapted twice: status $status"
cmp 'Füße 1.gcode' piped.gcode || fail 'harmed by the second run'
status=0
there adapt none.gcode --profile 'Förderer.toml' --output out.gcode || status=$?
[[ $status -eq 1 ]] || fail "a missing file: status $status"
grep -q 'No such file' said || fail 'the cause is not named'
[[ -z $(find . -name '.meltlag*') ]] || fail 'temporary files are left'
echo "adapt, predict, inspect, diff, causes, builds and compare work under wine"
