# SPDX-License-Identifier: MIT
# G-code with cautions first, a sheet to fill in; nothing is replaced; limits are held.
write_profile auger.toml
feed() { meltlag calibrate feed --profile auger.toml --output feed.gcode --sheet cups.csv "$@"; }
expect 0 feed --plain-start --nozzle-c 205
shows '28 cups'
shows '--read cups.csv'
[[ $(wc -l <cups.csv) -eq 29 ]] || fail 'the sheet does not hold 28 cups'
head -1 cups.csv | grep -qx 'cup,flow_mm3_s,commanded_mm3,seconds,mass_g,note' || fail 'other columns'
awk '/^; Cautions/ { told = NR } /^[A-Z]/ && !told { exit 1 }' feed.gcode || fail 'code before cautions'
[[ $(grep -c '^M0$' feed.gcode) -eq 57 ]] || fail 'not two pauses for each cup and one before'
expect 0 meltlag inspect feed.gcode --profile auger.toml

guard
expect 1 feed --plain-start --nozzle-c 205
says 'already there'
expect 2 meltlag calibrate feed --profile auger.toml --output x.gcode --sheet x.csv
says '--plain-start'
expect 1 meltlag calibrate feed --profile auger.toml --output x.gcode --sheet x.csv --plain-start
says 'temperature'
expect 1 meltlag calibrate feed --profile auger.toml --output x.gcode --sheet x.csv --plain-start \
  --nozzle-c 205 --flows 2,160
says 'up to 144.317 mm³/s'
untouched

cp feed.gcode again.gcode
expect 0 feed --plain-start --nozzle-c 205 --force
cmp -s feed.gcode again.gcode || fail 'other bytes the second time'
expect 0 feed --plain-start --nozzle-c 205 --force --seed 7
cmp -s feed.gcode again.gcode && fail 'the seed changes nothing'
printf 'M109 S210 ; mine' >start.gcode
printf 'M104 S0 ; mine\n' >end.gcode
expect 0 feed --start start.gcode --end end.gcode --force --cups 1 --flows 3,6 --beep 15
grep -qx 'M109 S210 ; mine' feed.gcode || fail 'the start code is not there'
[[ $(tail -1 feed.gcode) == 'M104 S0 ; mine' ]] || fail 'the end code is not at the end'
grep -q '^M0$' feed.gcode && fail 'it pauses although it should beep'
expect 1 feed --start missing.gcode --end end.gcode --force
says 'missing.gcode'
