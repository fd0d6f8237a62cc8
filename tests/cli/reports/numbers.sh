# SPDX-License-Identifier: MIT
# Pages are well-formed, ask for nothing, and say the same as --json.
cp "$samples/seed-tray-foot.gcode" part.gcode
printed=$profiles/bench-auger-printed.toml
same_numbers() {
  local count
  cp "$MELTLAG_NOTES/results" table.json
  count=$(python3 "$MELTLAG_ROOT/tests/cli/reports/numbers.py" "$1" table.json) || fail "$1"
  [[ $count -ge $2 ]] || fail "$1 shows only $count numbers"
}
expect 0 meltlag adapt part.gcode --profile "$printed" --output adapted.gcode --report adapt.html --json
same_numbers adapt.html 60
expect 0 meltlag predict part.gcode --profile "$printed" --report predict.html --json
same_numbers predict.html 38
expect 0 meltlag predict adapted.gcode --original part.gcode --profile "$printed" --report both.html --json
same_numbers both.html 60
expect 1 meltlag diff part.gcode adapted.gcode --profile "$printed" --report diff.html --json
same_numbers diff.html 60
new=$profiles/bench-auger-braced.toml
expect 0 meltlag causes "$new" --against "$printed" --file part.gcode --report causes.html --json
same_numbers causes.html 100
expect 0 meltlag causes "$printed" --at-flow 2 --report causes.html --json
same_numbers causes.html 50
expect 0 meltlag builds "$printed" "$new" --report builds.html --json
same_numbers builds.html 14
measured_sheets part.gcode
expect 0 meltlag compare part.gcode rows.csv --profile "$printed" --mass 0.7 --took 1:50 --report compare.html --json
same_numbers compare.html 60
expect 0 meltlag compare part.gcode times.csv --clock-offset 0 --profile "$printed" --report compare.html --json
same_numbers compare.html 45
printf 'place,seen\nA1,yes\nA2,no\nA3,\n' >ticks.csv
expect 0 meltlag compare --ticks ticks.csv --report ticks.html --json
same_numbers ticks.html 5
expect 0 meltlag adapt "$samples/numbered-absolute.gcode" --profile "$printed" --time-table --report time.html --json
same_numbers time.html 72
# What is not known is left out.
write_profile auger.toml
expect 0 meltlag causes auger.toml --against "$printed" --report causes.html --json
same_numbers causes.html 20
expect 0 meltlag builds auger.toml "$new" --report builds.html --json
same_numbers builds.html 11
# What was measured of a machine that can be known.
measure=${MELTLAG_BINARY%/*}/tests/reference/measure
if [[ -x $measure ]]; then
  sed '/^\[lag\]/,/^flow_index/d' auger.toml >bare.toml
  expect 0 meltlag calibrate print TEST.gcode SHEET.csv --profile bare.toml --layers 4 --plain-start --nozzle-c 205
  "$measure" TEST.gcode SHEET.csv --run-on 3 --index 0.7 >filled.csv
  expect 0 meltlag calibrate fit TEST.gcode filled.csv --profile bare.toml --report fit.html --json
  same_numbers fit.html 7
  expect 1 meltlag calibrate fit TEST.gcode filled.csv --profile bare.toml --report filled.csv
  says 'would be overwritten by its own report'
fi
expect 0 meltlag calibrate feed --profile auger.toml --output feed.gcode --sheet cups.csv \
  --plain-start --nozzle-c 205
hopper feed.gcode 0.91 8.2 0 | weigh_cups cup 1.24 0.01 cups.csv >weighed.csv
expect 0 meltlag calibrate feed --profile auger.toml --density 1.24 --read weighed.csv --report feed.html --json
same_numbers feed.html 25
expect 2 meltlag calibrate feed --profile auger.toml --output f.gcode --sheet f.csv --plain-start --report x.html
says '--report needs --read'
