# SPDX-License-Identifier: MIT
# Three files that belong together; cautions first; one's own start and end code as it is.
write_profile auger.toml
sed -i '/^\[lag\]/,/^flow_index/d' auger.toml
printf 'M109 S201 ; my own start\nG28\n' >start.gcode
printf 'M104 S0 ; my own end\n' >end.gcode
piece() { meltlag calibrate print "$@" --profile auger.toml --layers 6; }
expect 0 piece TEST.gcode SHEET.csv --start start.gcode --end end.gcode --map MAP.svg
shows '20 widths first'
shows 'flow index'
shows 'calibrate fit TEST.gcode SHEET.csv --profile auger.toml'
[[ -z $(awk 'length($0) > 100' "$MELTLAG_NOTES/results") ]] || fail 'lines are too long'
[[ $(head -1 SHEET.csv) == trace,ruler_mm,kind,value,expected,lines,at_mm,note ]] || fail 'other columns'
[[ $(head -21 SHEET.csv | cut -d, -f3 | sort | uniq -c | tr -s ' ') == *' 20 width'* ]] ||
  fail 'the first 20 rows are not widths'
head -3 TEST.gcode | grep -q CAUTION || fail 'no caution at the top'
grep -q '^; purge before line one: ' TEST.gcode || fail 'the purge is not stated'
grep -qx 'M109 S201 ; my own start' TEST.gcode || fail 'the start code is not as it was'
tail -1 TEST.gcode | grep -qx 'M104 S0 ; my own end' || fail 'the end code is not as it was'
grep -q 'width="210mm" height="297mm"' MAP.svg || fail 'the map is no page of A4'
# The same once more is the same; another seed is not.
expect 0 piece A.gcode A.csv --start start.gcode --end end.gcode
expect 0 piece B.gcode B.csv --start start.gcode --end end.gcode --seed 2
cmp TEST.gcode A.gcode
cmp SHEET.csv A.csv
! cmp -s TEST.gcode B.gcode || fail 'the seed shuffles nothing'
expect 0 piece C.gcode C.csv --plain-start --nozzle-c 200 --readings 60
[[ $(cut -d, -f3 C.csv | head -61 | grep -c width) -eq 60 ]] || fail 'not 60 widths'
expect 0 meltlag inspect TEST.gcode --profile auger.toml
