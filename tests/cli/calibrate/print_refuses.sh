# SPDX-License-Identifier: MIT
# Nothing is replaced, no start code is guessed, limits are held, in words.
write_profile auger.toml
print() {
  meltlag calibrate print TEST.gcode SHEET.csv --profile auger.toml --layers 4 "$@"
}
guard
expect 2 print
says '--plain-start'
says 'cooled throat'
expect 2 print --end auger.toml
says '--start'
expect 1 print --plain-start
says 'temperature'
expect 2 print --start missing.gcode --end missing.gcode
says 'missing.gcode'
ready() { print --plain-start --nozzle-c 205 "$@"; }
expect 1 ready --fast 200
says 'mm³/s'
expect 1 ready --bed 90x90
says 'bed'
expect 2 ready --bed round
says 'round'
expect 1 ready --layer-height 2
says 'layer height'
expect 2 ready --layers 2
expect 2 ready --readings 4
expect 1 meltlag calibrate print TEST.gcode SHEET.csv --profile missing.toml --plain-start
says 'missing.toml'
untouched

# One file of the three is there: none is written.
for there in TEST.gcode SHEET.csv MAP.svg; do
  echo mine >"$there"
  guard
  expect 1 ready --map MAP.svg
  says "$there"
  says 'already there'
  untouched
  rm "$there"
done
