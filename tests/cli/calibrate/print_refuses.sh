# SPDX-License-Identifier: MIT
# No start code, files that are there, beds, speeds and heights that cannot be.
write_profile auger.toml
piece() { meltlag calibrate print --profile auger.toml --layers 4 "$@"; }
guard
expect 2 piece
says '--plain-start'
expect 1 piece --plain-start
says '°C'
expect 1 piece --plain-start --nozzle-c 205 --bed 90x90
expect 2 piece --plain-start --nozzle-c 205 --bed wide
says '200x220'
expect 1 piece --plain-start --nozzle-c 205 --fast 200
says 'mm/s'
expect 1 piece --plain-start --nozzle-c 205 --layer-height 2
expect 2 piece --plain-start --nozzle-c 205 --readings many
untouched
expect 0 piece TEST.gcode SHEET.csv --plain-start --nozzle-c 205
guard
expect 1 piece TEST.gcode OTHER.csv --plain-start --nozzle-c 205
says 'already there'
expect 1 piece OTHER.gcode SHEET.csv --plain-start --nozzle-c 205
says 'already there'
untouched
expect 0 piece TEST.gcode SHEET.csv --plain-start --nozzle-c 205 --force --seed 3
