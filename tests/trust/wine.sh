#!/usr/bin/env bash
# SPDX-License-Identifier: MIT
# Tries the pack for Windows under wine: wine.sh PACK.zip [MELTLAG]
# MELTLAG, built here, says whether both compute the same. Where its tests are built too, every example of
# the README runs under wine, in a folder with blanks and umlauts.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
pack=$(realpath "$1") here=${2:+$(realpath "$2")}
scratch=$(mktemp -d "${TMPDIR:-/tmp}/meltlag-wine.XXXXXX")
trap 'wineserver -k || true; rm -rf "$scratch"' EXIT
export WINEPREFIX=$scratch/prefix WINEDEBUG=-all WINEDLLOVERRIDES='mscoree,mshtml=' LC_ALL=C.UTF-8
fail() { echo "FAULT: $*" >&2; cat "$folder/said" >&2 || true; exit 1; }

folder="$scratch/Füße und Clips"
mkdir "$folder"
cd "$folder"
cmake -E tar xf "$pack"
mv meltlag-*-windows 'Meltlag für Teile'
unpacked="$folder/Meltlag für Teile"
other=$unpacked/meltlag.exe
there() { wine "$other" "$@" 2>said; }
status_of() {
  local status=0
  there "$@" >shown || status=$?
  echo "$status"
}

echo 'what is packed'
for name in meltlag.exe README.txt README.html profiles/README.html samples/cable-clip-arcs.gcode \
            licences/{meltlag,ceres-solver,libcsv,libpng1.6,libjpeg-turbo,tiff,libeigen3-dev,LGPL-2.1}.txt; do
  [[ -s $unpacked/$name ]] || fail "$name is not packed"
done
while IFS=: read -r page link; do
  link=${link#href=\"} link=${link#src=\"}
  [[ -e $(dirname "$page")/${link%\"} ]] || fail "$page leads to ${link%\"}, which is not there"
done < <(cd "$unpacked" && grep -oE '(href|src)="[^":#]+"' -r --include='*.html' "$unpacked")

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
cp "$root/profiles/bench-auger-printed.toml" 'Schnecke 1.toml'
printf 'gcode_line;width_mm\n20;0,8\n30;0,7\n' >'Maße.csv'

echo 'the commands'
there --version | grep -q '^meltlag' || fail 'no version'
# The profile's material is found beside the program.
there profile check 'Schnecke 1.toml' >shown || fail 'the materials are not found'

# Says the same as the program built here, where there is one.
same() {
  there "$@" >figures || fail "$1"
  [[ -s figures ]] || fail "$1 says nothing"
  if [[ $here ]]; then "$here" "$@" | diff - figures || fail "$1 says something else"; fi
}
for file in 'Füße 1.gcode' clip.gcode; do
  there adapt "$file" --profile 'Förderer.toml' --output 'there.gcode' --quiet || fail "adapt $file"
  if [[ $here ]]; then
    "$here" adapt "$file" --profile 'Förderer.toml' --output 'here.gcode' --quiet
    cmp there.gcode here.gcode || echo "other last digits in $file" >&2
    "$here" predict there.gcode --original "$file" --profile 'Förderer.toml' >/dev/null ||
      fail "what was written from $file is not its path"
  fi
  same predict "$file" --profile 'Förderer.toml'
  same inspect "$file" --profile 'Förderer.toml'
  [[ $(status_of diff "$file" there.gcode --profile 'Förderer.toml') -eq 1 ]] || fail diff
  rm -f there.gcode here.gcode
done
if [[ $here ]]; then cp -r "$root/profiles/materials" .; fi
same causes 'Schnecke 1.toml' --file clip.gcode
same builds 'Schnecke 1.toml' 'Schnecke 1.toml'
same compare clip.gcode 'Maße.csv' --profile 'Förderer.toml' --layer-height 0.3
there adapt clip.gcode --profile 'Förderer.toml' --side-by-side --bed-x 220 --output 'beide Füße.gcode' \
  --report 'Füße.html' --quiet || fail 'no job side by side'
[[ -s 'beide Füße.gcode.ticks.csv' && -s 'Füße.html' ]] || fail 'no tick sheet or page'

echo 'calibrate'
there calibrate feed --profile 'Schnecke 1.toml' --plain-start --nozzle-c 205 --output 'Füttern.gcode' \
  --sheet 'Becher.csv' >shown || fail 'calibrate feed'
awk -F, -v OFS=, 'NR > 1 { $5 = sprintf("%.4f", $3 * 1.2e-3 * (NR % 2 ? 0.955 : 0.965)) } { print }' Becher.csv >weighed
mv weighed Becher.csv
same calibrate feed --profile 'Schnecke 1.toml' --read Becher.csv --density 1.24
there calibrate print 'Prüfstück.gcode' 'Maß.csv' --profile 'Schnecke 1.toml' --plain-start --nozzle-c 205 \
  --map 'Karte.svg' >shown || fail 'calibrate print'
[[ $(status_of calibrate fit 'Prüfstück.gcode' 'Maß.csv' --profile 'Schnecke 1.toml') -eq 1 ]] || fail 'a fit of nothing'
there calibrate print 'Ringe.gcode' --rings --profile 'Schnecke 1.toml' --plain-start --nozzle-c 205 \
  --map 'Blatt.svg' >shown || fail 'calibrate print --rings'
[[ $(status_of calibrate scan 'Ringe.gcode' 'Füße 1.gcode' --output 'Gelesen.csv') -eq 1 ]] || fail 'scan reads G-code'
grep -q 'no PNG, JPEG or TIFF' said || fail 'it is not said what a picture is'
same calibrate stiffness --profile 'Schnecke 1.toml' --name Halter --deflection-mm 0.03 --at-flow 5

echo 'files'
there adapt 'Füße 1.gcode' --profile 'Förderer.toml' --output - --quiet >piped.gcode || fail 'no pipe'
there adapt --profile 'Förderer.toml' --in-place --keep-original 'Füße 1.gcode' || fail 'not in place'
cmp 'Füße 1.gcode' piped.gcode || fail 'in place is not what goes through a pipe'
cmp 'Füße 1.gcode.as-sliced' "$root/samples/numbered-absolute.gcode" || fail 'the original is not kept'
there adapt 'Füße 1.gcode' --restore || fail 'not put back'
cmp 'Füße 1.gcode' "$root/samples/numbered-absolute.gcode" || fail 'put back as something else'
[[ $(status_of adapt none.gcode --profile 'Förderer.toml' --output out.gcode) -eq 1 ]] || fail 'a missing file'
grep -q 'No such file' said || fail 'the cause is not named'
[[ -z $(find . -name '.meltlag*') ]] || fail 'temporary files are left'

# As a slicer runs it: the line as it stands in the slicer's settings, and the file's name behind it.
echo "the slicer's hook"
ln -s "$folder" "$WINEPREFIX/dosdevices/m:"
line='"M:\Meltlag für Teile\meltlag.exe" adapt --profile "M:\Förderer.toml" --in-place --keep-original'
# The shell there reads its scripts in the characters of old: ü, ö and ß are these in all of western Europe.
LC_ALL=C sed $'s/\u00fc/\x81/g; s/\u00f6/\x94/g; s/\u00df/\xe1/g' <<<"@$line \"M:\\Füße 1.gcode\"" >hook.bat
wine cmd /c 'M:\hook.bat' >said 2>&1 || fail 'the hook'
cmp 'Füße 1.gcode' piped.gcode || fail 'the hook adapted something else'
[[ -s 'Füße 1.gcode.as-sliced' ]] || fail 'the hook kept no original'

# A console of its own, as after a double click: the program says what it is and waits for a key. With
# arguments, or without a console, it never waits.
echo 'a double click'
# What a window shows, without the codes that move its cursor.
plain() { sed -E $'s/\e\\[1C/ /g; s/\e\\[[?0-9;]*[A-Za-z]//g' "$1"; }
mkfifo keys
exec 3<>keys
timeout 60 script -qec "wine '$other'" /dev/null <keys >window &
sleep 8
plain window | grep -q 'Press any key' || { plain window >said; fail 'the window says nothing'; }
kill -0 $! 2>/dev/null || fail 'it does not wait for the key'
printf 'x' >&3
status=0
wait $! || status=$?
[[ $status -eq 2 ]] || fail "a key ended it with status $status"
exec 3>&-
timeout 60 script -qec "wine '$other' --version" /dev/null >window </dev/null || fail 'it waits after --version'
status=0
timeout 60 wine "$other" </dev/null >shown 2>said || status=$?
[[ $status -eq 2 && ! -s shown ]] || fail "without a window it ends with status $status"

picture=${here%/*}/tests/reference/picture
if [[ $here && -x $picture ]]; then
  echo 'pictures'
  for ending in png jpg tif; do
    "$picture" Ringe.gcode "Bild für mich.$ending" --dpi 300 --run-on 4 --at-flow 5 --index 0.6 >truth
    there calibrate scan Ringe.gcode "Bild für mich.$ending" --output there.csv --overlay "Gefunden $ending.png" \
      >figures || fail "scan of a $ending"
    "$here" calibrate scan Ringe.gcode "Bild für mich.$ending" --output here.csv >shown
    cmp there.csv here.csv || fail "reads something else off a $ending"
    rm there.csv here.csv
  done

  echo 'every example of the README'
  mkdir "$scratch/wrapped"
  printf '#!/usr/bin/env bash\nexec wine "%s" "$@"\n' "$other" >"$scratch/wrapped/meltlag"
  chmod +x "$scratch/wrapped/meltlag"
  ln -s "${here%/*}/tests" "$scratch/wrapped/tests"
  TMPDIR=$folder "$root/tests/cli/run_test" "$scratch/wrapped/meltlag" usage/readme_examples.sh
else
  echo "the README's examples are left out: there is no $root/build with tests"
fi
echo 'all of it works under wine'
