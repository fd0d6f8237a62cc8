# SPDX-License-Identifier: MIT
# Sheets that cannot be used end with status 1 and say file, row and column, and what to do.
write_profile auger.toml
expect 0 meltlag calibrate print TEST.gcode SHEET.csv --profile auger.toml --layers 4 \
  --plain-start --nozzle-c 205
awk -F, -v OFS=, 'NR > 1 { $5 = $6 } { print }' SHEET.csv >filled.csv
# bad WORDS...: the sheet bad.csv is refused, saying all of them, and nothing is written.
bad() {
  guard
  expect 1 meltlag calibrate fit TEST.gcode bad.csv --profile auger.toml --output new.toml
  local word
  for word in "$@"; do says "$word"; done
  [[ $(wc -l <"$MELTLAG_NOTES/messages") -ge 2 ]] || fail 'not said what to do'
  untouched
}
# cell ROW COLUMN TEXT: that cell of the filled sheet is another one.
cell() { awk -F, -v OFS=, -v r="$1" -v c="$2" -v t="$3" 'NR == r { $c = t } { print }' filled.csv >bad.csv; }

cut -d, -f1-4,6- filled.csv >bad.csv
bad 'bad.csv:1' "'value'" 'expected'
sed 's/value/width_mm/' filled.csv >bad.csv
bad 'bad.csv:1' 'no column'
cell 6 5 'about 1'
bad 'bad.csv:6:5' 'about 1'
cell 6 5 '0.04 in'
bad 'bad.csv:6:5' "'in'" 'in mm'
cell 6 5 -1
bad 'bad.csv:6:5' 'negative'
cell 6 4 breadth
bad 'bad.csv:6:4' 'breadth' 'width, place_at_width'
cell 6 7 99999
bad 'bad.csv:6:7' 'line 99999 is outside of TEST.gcode' 'the file that this sheet'
cell 6 7 1
bad 'bad.csv:6:7' 'moves nothing'
cell 6 7 first
bad 'bad.csv:6:7' 'first'
cell 6 8 400
bad 'bad.csv:6:8' 'outside of the move'
sed 's/\./,/' filled.csv >bad.csv
bad 'bad.csv:2' 'semicolons'
awk -F, -v OFS=, 'NR > 1 { $5 = NR < 22 ? 1 : "" } { print }' filled.csv >bad.csv
bad 'bad.csv' 'readings are 1'
awk -F, -v OFS=, 'NR > 3 { $5 = "" } { print }' filled.csv >bad.csv
bad 'bad.csv' '2 readings cannot determine the lag' 'at least 5'
cp SHEET.csv bad.csv
bad 'no row has a value' 'bad.csv'
head -1 filled.csv >bad.csv
bad 'no row has a value' 'bad.csv'
: >bad.csv
bad 'bad.csv' 'empty'
rm bad.csv
bad 'bad.csv' 'cannot read'
# Units after numbers are ignored, and that is said.
awk -F, -v OFS=, 'NR > 1 { $5 = $4 == "mass" ? "" : $5 " mm" } { print }' filled.csv >units.csv
expect 0 meltlag calibrate fit TEST.gcode units.csv --profile auger.toml
shows 'units after numbers were ignored'
# A file that is another one.
write_part part.gcode
expect 1 meltlag calibrate fit part.gcode filled.csv --profile auger.toml
says 'filled.csv:2:7'
says 'outside of part.gcode'
