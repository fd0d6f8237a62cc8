# SPDX-License-Identifier: MIT
# A part as sliced and adapted on one bed, and the sheet that is ticked off.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
pair() { meltlag adapt part.gcode --profile auger.toml --side-by-side --output pair.gcode "$@"; }
expect 0 pair --bed-x 220
[[ -s pair.gcode ]] || fail 'no job'
[[ $(grep -c '^A[0-9]*,' pair.gcode.ticks.csv) -le 10 ]] || fail 'too many places'
grep -q '^A1,' pair.gcode.ticks.csv || fail 'no place to look at'
expect 1 meltlag compare --ticks pair.gcode.ticks.csv
says 'no row is ticked'
sed '/^A[0-9]/s/$/yes/' pair.gcode.ticks.csv >ticked.csv
expect 0 meltlag compare --ticks ticked.csv
shows 'predicted differences were seen: 100 %'
expect 0 meltlag compare --ticks ticked.csv --json
guard
expect 1 pair
says 'already exists'
rm pair.gcode
guard
expect 1 pair
says 'ticks.csv'
expect 1 pair --force --bed-x 50
says 'beyond the bed'
expect 2 pair --in-place
expect 2 meltlag adapt part.gcode --profile auger.toml --output other.gcode --tick-sheet t.csv
untouched
