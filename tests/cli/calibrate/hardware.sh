# SPDX-License-Identifier: MIT
# The hardware piece is written, its sheets are read, builds are told apart by at least two prints.
write_profile auger.toml
piece() { meltlag calibrate print --hardware --profile auger.toml --plain-start "$@"; }
expect 0 piece --nozzle-c 205
shows '24 beads'
shows 'calibrate hardware HW.csv'
[[ $(wc -l <HW.csv) -eq 25 ]] || fail 'the sheet does not hold 24 stops'
[[ $(grep -c '^; bead ' HW.gcode) -eq 24 ]] || fail 'not 24 beads'
awk '/^; CAUTION/ { told = NR } /^[A-Z]/ && !told { exit 1 }' HW.gcode || fail 'code before cautions'
expect 0 meltlag inspect HW.gcode --profile auger.toml
cp HW.gcode again.gcode
expect 0 piece --nozzle-c 205 --force
cmp -s HW.gcode again.gcode || fail 'other bytes the second time'
guard
expect 1 piece --nozzle-c 205
says 'already there'
expect 2 piece --nozzle-c 205 --layers 5
expect 2 meltlag calibrate print --profile auger.toml --plain-start --retract-mm 1
expect 1 piece --nozzle-c 205 --output x.gcode --sheet x.csv --retract-speed 25
says 'screw'
untouched

# filled BLOB GAP: a sheet whose stops scatter about these.
filled() {
  awk -F, -v OFS=, -v blob="$1" -v gap="$2" 'NR > 1 {
    $3 = blob + 0.1 * (NR % 5 - 2); $4 = 1.0; $5 = gap + 0.5 * (NR % 3 - 1)
  } { print }' HW.csv
}
filled 2.4 6 >old1.csv
filled 2.5 6.2 >old2.csv
filled 1.6 6.1 >new1.csv
filled 1.62 6 >new2.csv
hardware() { meltlag calibrate hardware "$@" --profile auger.toml; }
guard
expect 0 hardware new1.csv
shows 'No file was written'
expect 0 hardware new1.csv --against old1.csv
shows 'These two prints'
shows 'two prints alone'
tr -s ' \n' ' ' <"$MELTLAG_NOTES/results" | grep -q 'at least two prints of each build: 1 more print of the old build and 1 more' ||
  fail 'how many more prints it takes is not said'
untouched
expect 0 hardware new1.csv new2.csv --against old1.csv old2.csv --date 2026-05-20 --output new.toml
grep -q 'blob, mm³.*better' "$MELTLAG_NOTES/results" || fail 'the smaller blobs are not better'
grep -q 'gap, mm.*cannot tell' "$MELTLAG_NOTES/results" || fail 'like gaps are told apart'
cmp -s <(head -n "$(wc -l <auger.toml)" new.toml) auger.toml || fail 'the profile itself was changed'
[[ $(grep -cx '\[\[measured\]\]' new.toml) -eq 2 ]] || fail 'not one block for each print'
grep -qx 'date = "2026-05-20"' new.toml || fail 'the date is not there'
expect 0 meltlag profile check new.toml
expect 0 hardware new1.csv new2.csv --against old1.csv old2.csv --json
python3 - "$MELTLAG_NOTES/results" <<'PY' || fail 'the JSON differs'
import json, sys
page = json.load(open(sys.argv[1]))
assert len(page["prints"]) == 2 and page["prints"][0]["all"]["blob_mm3"]["count"] == 24
builds = page["against"]["builds"]
assert builds["blob_mm3"]["verdict"] == "better" and builds["gap_mm"]["verdict"] == "cannot tell"
assert "these_two_prints" not in page["against"]
PY
guard
expect 1 hardware new1.csv --against ./new1.csv
says 'given twice'
sed 's/,8\.[0-9]*,/,7.1,/; s/,7\.9[0-9]*,/,7.1,/' old1.csv >other.csv
expect 1 hardware new1.csv --against other.csv
says 'another file was printed'
sed 's/retract 1 mm/retract 0 mm/' old1.csv >other.csv
expect 1 hardware new1.csv --against other.csv
says 'its retract'
rm other.csv
untouched

# A short comparison of four rows each has its verdict, told as less sure.
for print in old1 new1; do
  awk -F, -v OFS=, 'NR > 5 { $3 = $4 = $5 = "" } { print }' $print.csv >short_$print.csv
done
expect 0 hardware short_new1.csv --against short_old1.csv
shows 'Few values: with 4 stops'
expect 0 hardware new1.csv --against old1.csv
grep -q 'Few values' "$MELTLAG_NOTES/results" && fail 'all rows are called few'
true
