# SPDX-License-Identifier: MIT
# Five readings on a short piece: does the lag still hold?
measure=${MELTLAG_BINARY%/*}/tests/reference/measure
[[ -x $measure ]] || skip 'the reference is not built'
write_profile auger.toml
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 3.0\nrun_on_mm3_sd = 0.1/' auger.toml
expect 0 meltlag calibrate print TEST.gcode SHEET.csv --profile auger.toml --layers 4 \
  --plain-start --nozzle-c 205
hidden() {
  "$measure" TEST.gcode SHEET.csv --run-on "$1" --at-flow 5 --index 1 --factor 1 --seed 3 \
    --acceleration 800 --jump 10,10,0.4,5 --max-speed 300,300,20,60 \
    --max-acceleration 9000,9000,500,5000 | awk -F, -v OFS=, 'NR > 9 { $5 = "" } { print }' >filled.csv
}
recheck() { meltlag calibrate recheck TEST.gcode filled.csv --profile auger.toml "$@"; }
hidden 3
expect 0 recheck
grep -q '^No' "$MELTLAG_NOTES/results" && fail 'the lag is the same, but is said not to hold'
hidden 9
expect 0 recheck
shows 'No: the lag no longer holds'
expect 0 recheck --json
shows '"parameter": "run-on"'
awk -F, -v OFS=, 'NR > 3 { $5 = "" } { print }' filled.csv >few && mv few filled.csv
expect 1 recheck
says 'too few'
sed '/^\[lag\]/,/^flow_index/d' auger.toml >bare.toml
expect 1 meltlag calibrate recheck TEST.gcode filled.csv --profile bare.toml
