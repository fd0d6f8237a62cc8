# SPDX-License-Identifier: MIT
# The printer's own timing by a stopwatch: a file, a sheet, and what it says of [machine].
write_profile auger.toml
timing() { meltlag calibrate timing timing.gcode times.csv --profile "$@"; }
expect 2 timing auger.toml
says '--plain-start'
expect 0 timing auger.toml --plain-start --nozzle-c 205
shows '6 blocks'
shows '--read'
awk '/^; Cautions/ { told = NR } /^[A-Z]/ && !told { exit 1 }' timing.gcode || fail 'code before cautions'
[[ $(grep -c '^M0$' timing.gcode) -eq 6 ]] || fail 'not one pause for each block'
guard
expect 1 timing auger.toml --plain-start --nozzle-c 205
says 'already there'
expect 1 timing auger.toml --read
says 'no row has a time'
untouched

# As planned: all holds, and the profile stays what it was.
awk -F, -v OFS=, 'NR > 1 { $4 = $3 } { print }' times.csv >filled && mv filled times.csv
expect 0 timing auger.toml --read --output same.toml
shows '[machine] holds'
cmp same.toml auger.toml || fail 'another profile although all holds'
# A printer with twice the acceleration, by a profile of its own.
sed 's/^acceleration_mm_s2 = .*/acceleration_mm_s2 = 1600/' auger.toml >fast.toml
expect 0 meltlag calibrate timing fast.gcode fast.csv --profile fast.toml --plain-start --nozzle-c 205
awk -F, -v OFS=, 'NR > 1 { $4 = $3 } { print }' fast.csv >times.csv
expect 0 timing auger.toml --read --output found.toml
shows 'acceleration_mm_s2 is 1'
grep -qE '^acceleration_mm_s2 = 1(5[0-9][0-9]|6[0-9][0-9])' found.toml || fail 'not the acceleration that was run'
expect 0 timing auger.toml --read --json
shows '"verdict": "differs"'
expect 0 meltlag profile check found.toml
