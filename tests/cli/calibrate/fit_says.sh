# SPDX-License-Identifier: MIT
# The answer first, then a profile with its comments kept; nothing is replaced.
write_profile auger.toml
sed -i '/^\[lag\]/,/^flow_index/d' auger.toml
sed -i 's/^slicer_diameter_mm.*/& # as in the slicer/; s/^delivered_factor.*/& # of last year/' auger.toml
expect 0 meltlag calibrate print TEST.gcode SHEET.csv --profile auger.toml --layers 4 \
  --plain-start --nozzle-c 207
# Someone measures just what was expected; the row after the last width and two of them are missing.
awk -F, -v OFS=, 'NR > 1 && NR != 9 && NR != 22 { $5 = $6 } { print }' SHEET.csv >filled.csv
fit() { meltlag calibrate fit TEST.gcode "$@" --profile auger.toml; }

guard
expect 0 fit filled.csv
head -1 "$MELTLAG_NOTES/results" | grep -qE \
  '^After a stop [0-9.]+ ± [0-9.]+ mm³ run on .*; lag ([0-9.]+ ± [0-9.]+ s at [0-9.]+(, )?){3} mm³/s\.$' ||
  fail 'the first line does not hold run-on and lag at three flows with their ±'
shows 'flow index'
shows 'delivered factor'
shows 'do not ask for'
shows 'applied twice'
shows 'No file was written'
[[ $(tail -n +2 "$MELTLAG_NOTES/results" | wc -L) -le 80 ]] || fail 'wider than the screen'
untouched

expect 0 fit filled.csv --details
shows 'Every reading'
shows 'Layer heights'
expect 0 fit - --details <filled.csv
shows 'Every reading'

expect 0 fit filled.csv --output new.toml
shows 'Wrote new.toml'
grep -q '^slicer_diameter_mm = 1.75 # as in the slicer' new.toml || fail 'a comment was lost'
grep -q '^delivered_factor = .* # of last year' new.toml || fail 'a comment was lost'
grep -q '^measured_on = "20' new.toml || fail 'the date is not in the profile'
for key in run_on_mm3 run_on_mm3_sd at_flow_mm3_s flow_index flow_index_sd delivered_factor \
  delivered_factor_sd; do
  grep -q "^$key = " new.toml || fail "the profile has no $key"
done
grep -qx 'at_c = 207.0' new.toml || fail 'the temperature is not in the profile'
expect 0 meltlag profile check new.toml
shows 'Lag as measured'
# What was expected is a machine of 1.8 mm³ at 4 mm³/s with a flow index of 0.6.
awk '/^run_on_mm3 =/ { s = $3 } /^at_flow/ { q = $3 } /^flow_index =/ { n = $3 }
  END { s *= (4 / q) ^ n; exit !(s > 1.6 && s < 2 && n > 0.5 && n < 0.7) }' new.toml ||
  fail 'another machine was found'

guard
expect 1 fit filled.csv --output new.toml
says 'already there'
expect 1 fit filled.csv --output auger.toml
says 'already there'
untouched
expect 0 fit filled.csv --output new.toml --force

expect 0 fit filled.csv --json
python3 - "$MELTLAG_NOTES/results" <<'CHECK' || fail 'the JSON does not hold what it should'
import json, sys
fit = json.load(open(sys.argv[1]))
assert 0 < fit["run_on_mm3"]["sd"] < fit["run_on_mm3"]["value"]
assert len(fit["lag"]) == 3 and all(lag["lag_s"]["sd"] > 0 for lag in fit["lag"])
assert 8 not in [row["row"] for row in fit["rows"]]  # left empty
assert all(row["verdict"] == "fine" for row in fit["rows"])
CHECK

# A spreadsheet with decimal commas writes semicolons.
sed 's/,/;/g; s/\./,/g; s/;width;\([0-9,]\+\);/;width;\1 mm;/' filled.csv >german.csv
expect 0 fit german.csv
shows 'after numbers were ignored'
shows 'semicolons separate the columns'
shows 'decimal commas were read as points'
cp "$MELTLAG_NOTES/results" german.txt
expect 0 fit filled.csv
[[ $(head -2 german.txt) == "$(head -2 "$MELTLAG_NOTES/results")" ]] || fail 'another result'
# A reading that no machine gives is queried, by row.
awk -F, -v OFS=, 'NR == 4 { $5 = 7.5 } { print }' filled.csv >slip.csv
expect 0 fit slip.csv
shows 'row 3, width'
shows 'wrong trace'
# Values typed one row too low, as a spreadsheet's own numbers suggest: suspected, and nothing is
# written, unless they are said to hold.
awk -F, -v OFS=, 'NR == 1 { print; next } { value = $5; if ($4 != kind) held = ""; $5 = held; held = value; kind = $4; print }' \
  filled.csv >low.csv
guard
expect 1 meltlag calibrate fit TEST.gcode low.csv --profile auger.toml --output low.toml
says 'one row too low'
says 'column row'
untouched
expect 0 meltlag calibrate fit TEST.gcode low.csv --profile auger.toml --rows-hold
