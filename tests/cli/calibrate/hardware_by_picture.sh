# SPDX-License-Identifier: MIT
# The hardware piece's form for pictures: its page, a picture of a print on each build, the verdict.
picture=${MELTLAG_BINARY%/*}/tests/reference/picture
[[ -x $picture ]] || skip 'the reference is not built'
write_profile auger.toml
piece() { meltlag calibrate print --hardware --profile auger.toml --plain-start --nozzle-c 205 "$@"; }
expect 0 piece --map PAGE.svg --background blue
shows 'calibrate hardware HW.gcode --scan PICTURE'
shows 'heat-resistant film'
[[ ! -e HW.csv ]] || fail 'a sheet was written that nobody fills in'
[[ $(grep -c '^; bead ' HW.gcode) -eq 24 && $(grep -c '^; lead-in of bead ' HW.gcode) -eq 24 ]] ||
  fail 'not 24 beads and lead-ins'
grep -q '1838c0' PAGE.svg || fail 'the page is not blue'
expect 2 piece --map P2.svg --sheet S.csv --output H2.gcode
expect 2 piece --background blue --output H2.gcode --sheet S.csv
says 'of --rings, or of'

"$picture" HW.gcode old.png --dpi 300 --run-on 5 --at-flow 5 --index 0.6 --piece-turn 20 >/dev/null
"$picture" HW.gcode new.png --dpi 300 --run-on 1.6 --at-flow 5 --index 0.6 --piece-turn 140 --seed 2 >/dev/null
hardware() { meltlag calibrate hardware "$@" --profile auger.toml; }
expect 0 hardware HW.gcode --scan new.png --against old.png --output new.toml
grep -q 'blob, mm³.*better' "$MELTLAG_NOTES/results" || fail 'the smaller blobs are not better'
shows 'new.png: 24 blobs, 24 gaps'
grep -q '^blob_mm3 = 0' new.toml || fail 'the profile did not get the blob'
guard
expect 2 hardware HW.gcode HW.gcode --scan new.png
says 'one G-code file'
expect 1 hardware HW.gcode --scan new.png --against new.png
says 'given twice'
expect 1 hardware PAGE.svg --scan new.png
says 'no hardware piece'
untouched
