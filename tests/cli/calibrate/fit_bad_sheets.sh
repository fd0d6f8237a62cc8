# SPDX-License-Identifier: MIT
# Each bad sheet: status 1, file:row:column, what is wrong and what to do; no profile is written.
write_profile auger.toml
expect 0 meltlag calibrate print --profile auger.toml --layers 4 --plain-start --nozzle-c 205
awk -F, -v OFS=, 'NR > 1 && NR < 22 { $4 = sprintf("%.2f", $5 + 0.01 * (NR % 5)) } { print }' \
  SHEET.csv >good.csv
fit() { meltlag calibrate fit TEST.gcode "$@" --profile auger.toml --output new.toml; }
cut -d, -f1-5 good.csv >columns.csv
sed '4s/,width,[^,]*,/,width,about one,/' good.csv >text.csv
sed '5s/,width,[^,]*,/,width,1.0 inch,/' good.csv >unit.csv
sed '6s/,width,[^,]*,/,width,-1,/' good.csv >negative.csv
sed '7s/,width,/,breadth,/' good.csv >kind.csv
awk -F, -v OFS=, 'NR == 8 { $6 = "99999999" } { print }' good.csv >lines.csv
awk -F, -v OFS=, 'NR == 9 { $7 = "900" } { print }' good.csv >place.csv
awk -F, -v OFS=, 'NR > 1 && NR < 22 { $4 = "1.00" } { print }' good.csv >alike.csv
head -3 good.csv >two.csv
: >empty.csv
guard
refuses() {
  expect 1 fit "$1"
  shift
  for words in "$@"; do says "$words"; done
}
refuses columns.csv 'columns.csv:1' 'lines' 'at_mm'
refuses text.csv 'text.csv:4:4' 'about one'
refuses unit.csv 'unit.csv:5:4' 'inch'
refuses negative.csv 'negative.csv:6:4' 'negative'
refuses kind.csv 'kind.csv:7:3' 'breadth' 'place_at_width'
refuses lines.csv 'lines.csv:8:6' 'outside' 'TEST.gcode'
refuses place.csv 'place.csv:9:7' '900'
refuses alike.csv 'alike.csv' 'all 20 readings are 1'
refuses two.csv 'two.csv' '2 readings' 'at least 5'
refuses SHEET.csv 'no row has a value'
refuses empty.csv 'empty.csv'
refuses missing.csv 'missing.csv'
untouched
