# SPDX-License-Identifier: MIT
# A hidden machine's print is measured: the lag with its ±, a profile with its comments kept.
measure=${MELTLAG_BINARY%/*}/tests/reference/measure
[[ -x $measure ]] || skip 'the reference measuring is not built'
write_profile auger.toml
sed -i '/^\[lag\]/,/^flow_index/d' auger.toml
sed -i 's/^delivered_factor.*/delivered_factor = 1.0 # of last year/' auger.toml
expect 0 meltlag calibrate print --profile auger.toml --layers 6 --plain-start --nozzle-c 205
"$measure" TEST.gcode SHEET.csv --run-on 3 --at-flow 5 --index 0.6 --factor 0.95 --height 0.3 \
  --seed 5 >FILLED.csv
fit() { meltlag calibrate fit TEST.gcode "$@" --profile auger.toml; }
expect 0 fit FILLED.csv --output new.toml
head -3 "$MELTLAG_NOTES/results" | tr '\n' ' ' |
  grep -Eq '^After a stop [0-9.]+ ± [0-9.]+ mm³ run on .*lag( [0-9.]+ ± [0-9.]+ s at [0-9.]+,?){3} mm³/s\.' ||
  fail 'the first sentence does not say it all'
shows 'delivered factor'
shows 'applied twice'
shows 'Wrote new.toml'
grep -q '^delivered_factor = 0\.9.* # of last year' new.toml || fail 'a comment was lost'
for key in delivered_factor_sd run_on_mm3 run_on_mm3_sd at_flow_mm3_s flow_index flow_index_sd; do
  grep -q "^$key = " new.toml || fail "$key is not in the profile"
done
grep -qx 'at_c = 205.0' new.toml || fail 'the temperature is not in the profile'
grep -q '^measured_on = "20' new.toml || fail 'the date is not in the profile'
expect 0 meltlag profile check new.toml
shows '±'
guard
expect 1 fit FILLED.csv --output new.toml
says 'already there'
untouched
expect 0 fit FILLED.csv
shows 'run_on_mm3 = '
untouched
expect 0 fit FILLED.csv --details
shows 'Every reading'
expect 0 fit FILLED.csv --json
python3 -c 'import json, sys
d = json.load(open(sys.argv[1]))
assert 1.5 < d["run_on_mm3"]["value"] < 7 and d["run_on_mm3"]["sd"] > 0 and len(d["lag"]) == 3' \
  "$MELTLAG_NOTES/results" || fail 'the JSON says something else'
# As a spreadsheet writes it: semicolons, decimal commas, units.
python3 - <<'PY'
import csv
rows = list(csv.reader(open('FILLED.csv')))
with open('german.csv', 'w', newline='') as out:
    writer = csv.writer(out, delimiter=';')
    writer.writerow(rows[0])
    for row in rows[1:]:
        row[3] = row[3].replace('.', ',') + (' mm' if row[2] == 'width' else '')
        row[4], row[6] = row[4].replace('.', ','), row[6].replace('.', ',')
        writer.writerow(row)
PY
expect 0 fit german.csv --details
shows 'semicolons part the columns'
shows 'decimal commas'
grep -v 'The sheet' "$MELTLAG_NOTES/results" >german.txt
expect 0 fit FILLED.csv --details
head -2 "$MELTLAG_NOTES/results" | cmp -s - <(head -2 german.txt) || fail 'another result'
