# SPDX-License-Identifier: MIT
# From the test piece to the plastic: a hidden machine prints it, someone measures it, the fit finds
# the machine, and adapt places plastic with the fitted profile as well as with the true one.
judge=${MELTLAG_BINARY%/*}/tests/reference/judge
measure=${MELTLAG_BINARY%/*}/tests/reference/measure
[[ -x $judge && -x $measure ]] || skip 'the reference is not built'
machine=(--acceleration 800 --jump 10,10,0.4,5 --max-speed 300,300,20,60
  --max-acceleration 9000,9000,500,5000)
write_profile auger.toml
sed '/^\[lag\]/,/^flow_index/d' auger.toml >bare.toml
expect 0 meltlag calibrate print TEST.gcode SHEET.csv --profile bare.toml --layers 6 \
  --plain-start --nozzle-c 205 --density 1.24
cp "$samples/seed-tray-foot.gcode" part.gcode

# closes RUN_ON INDEX FACTOR: misplaced plastic is within 1.5 points of what the truth gives.
closes() {
  local hidden=(--run-on "$1" --at-flow 5 --index "$2" --factor "$3" "${machine[@]}") way
  "$measure" TEST.gcode SHEET.csv "${hidden[@]}" --seed 3 >filled.csv
  expect 0 meltlag calibrate fit TEST.gcode filled.csv --profile bare.toml --density 1.24 \
    --output fitted.toml --force
  sed "s/^run_on_mm3 .*/run_on_mm3 = $1/; s/^flow_index .*/flow_index = $2/
    s/^delivered_factor .*/delivered_factor = $3/" auger.toml >true.toml
  local -A misplaced
  for way in fitted true; do
    expect 0 meltlag adapt part.gcode --profile $way.toml --output $way.gcode --force
    misplaced[$way]=$("$judge" part.gcode $way.gcode "${hidden[@]}" --max-flow 15 |
      awk '/^misplaced_percent/ { print $NF }')
  done
  misplaced[none]=$("$judge" part.gcode "${hidden[@]}" --max-flow 15 |
    awk '/^misplaced_percent/ { print $2 }')
  echo "run-on $1: ${misplaced[none]} % untouched, ${misplaced[true]} % true, ${misplaced[fitted]} % fitted" >&2
  awk "BEGIN { exit !(${misplaced[fitted]} < ${misplaced[true]} + 1.5) }" ||
    fail "run-on $1, index $2: ${misplaced[fitted]} % with the fit, ${misplaced[true]} % with the truth"
  awk "BEGIN { exit !(${misplaced[fitted]} < 0.8 * ${misplaced[none]}) }" ||
    fail "run-on $1, index $2: ${misplaced[fitted]} % with the fit, ${misplaced[none]} % untouched"
}
closes 1.5 1 1
closes 4 0.5 0.95
