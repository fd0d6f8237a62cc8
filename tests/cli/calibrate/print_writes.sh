# SPDX-License-Identifier: MIT
# Three files that belong together: cautions first in the G-code, a sheet with its exact header, a page at 1:1.
write_profile auger.toml
print() {
  meltlag calibrate print TEST.gcode SHEET.csv --profile auger.toml --layers 4 "$@"
}
expect 0 print --map MAP.svg --plain-start --nozzle-c 205
for file in TEST.gcode SHEET.csv MAP.svg; do
  shows "$file"
  [[ -s $file ]] || fail "$file was not written"
done
shows 'purge before line one'
shows 'Expected from the first 20 rows'
shows 'calibrate fit TEST.gcode SHEET.csv --profile auger.toml'
[[ $(wc -L <"$MELTLAG_NOTES/results") -le 80 ]] || fail 'wider than the screen'

[[ $(head -1 SHEET.csv) == 'row,trace,ruler_mm,kind,value,expected,lines,at_mm,note' ]] ||
  fail 'the sheet has another header'
[[ $(awk -F, 'NR > 1 && NR < 22 && $4 == "width"' SHEET.csv | wc -l) -eq 20 ]] ||
  fail 'the sheet does not begin with 20 widths'
[[ -z $(awk -F, 'NR > 1 && $5 != ""' SHEET.csv) ]] || fail 'values are filled in already'
awk '/^; CAUTION/ { told = NR } /^[A-Z]/ && !told { exit 1 }' TEST.gcode || fail 'code before cautions'
for word in unattended fumes 'data sheet' burn; do
  sed -n '1,20p' TEST.gcode | grep -qF "$word" || fail "no caution about '$word'"
done
grep -q '^; purge before line one: ' TEST.gcode || fail 'the purge is not stated'
grep -q 'width="210mm" height="297mm"' MAP.svg || fail 'the map is no page of A4'
expect 0 meltlag inspect TEST.gcode --profile auger.toml

# The same bytes again; another seed, other bytes.
cp TEST.gcode again.gcode
cp SHEET.csv again.csv
expect 0 print --plain-start --nozzle-c 205 --force
cmp -s TEST.gcode again.gcode || fail 'other G-code the second time'
cmp -s SHEET.csv again.csv || fail 'another sheet the second time'
expect 0 print --plain-start --nozzle-c 205 --force --seed 7 --readings 60
[[ $(head -61 SHEET.csv | cut -d, -f4 | grep -cx width) -eq 60 ]] || fail 'not 60 widths'
cmp -s TEST.gcode again.gcode && fail 'the seed changes nothing'

# Start and end code stand there as they are, though the last line has no end.
printf 'M109 S212 ; mine\r\nG28 W ; odd' >start.gcode
printf 'M104 S0 ; mine\nM81' >end.gcode
expect 0 print --start start.gcode --end end.gcode --force --readings 7
python3 - <<'CHECK' || fail 'start and end code are not there as they are'
text = open("TEST.gcode", "rb").read()
start, end = open("start.gcode", "rb").read(), open("end.gcode", "rb").read()
assert start in text and end in text
assert text.index(start) < text.index(b"G1 ") and text.rstrip(b"\n").endswith(end)
CHECK
grep -q 'plain start' TEST.gcode && fail 'a plain start stands beside the own one'
shows 'the first 7 rows'
# Without [lag], parts or a known lag: [feed] and [machine] are enough.
sed '/^\[lag\]/,/^flow_index/d; /^\[limits\]/,$d' auger.toml >bare.toml
expect 0 meltlag calibrate print T.gcode S.csv --profile bare.toml --layers 4 --plain-start \
  --nozzle-c 205
