# SPDX-License-Identifier: MIT
# A part as sliced and adapted on one bed, and the sheet that is ticked off.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
pair() { meltlag adapt part.gcode --profile auger.toml --side-by-side --bed-x 220 --output pair.gcode "$@"; }
expect 2 meltlag adapt part.gcode --profile auger.toml --side-by-side --output pair.gcode
says '--bed-x'
[[ ! -e pair.gcode ]] || fail 'a job without knowing the bed'
expect 0 pair
[[ -s pair.gcode ]] || fail 'no job'
[[ $(grep -c '^A[0-9]*,' pair.gcode.ticks.csv) -le 10 ]] || fail 'too many places'
grep -q '^A1,' pair.gcode.ticks.csv || fail 'no place to look at'
grep -q '^# Left: as sliced' pair.gcode.ticks.csv || fail 'the sheet does not say what is on the left'
says 'Left: as sliced'
sed -i 's/^delivered_factor = .*/delivered_factor = 0.91/' auger.toml
expect 0 meltlag adapt part.gcode --profile auger.toml --side-by-side --bed-x 220 --output right.gcode --report right.html --json
shows '"left_copy": "flow set right (109.9 % of every E as sliced)"'
says 'Left: flow set right'
grep -q '^# Left: flow set right' right.gcode.ticks.csv || fail 'the sheet does not name flow set right'
grep -q 'Left: flow set right' right.html || fail 'the page does not name flow set right'
sed -i 's/^delivered_factor = .*/delivered_factor = 1.0/' auger.toml
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
expect 1 meltlag adapt part.gcode --profile auger.toml --side-by-side --bed-x 50 --output pair.gcode --force
says 'beyond the bed'
expect 2 pair --in-place
expect 2 meltlag adapt part.gcode --profile auger.toml --output other.gcode --tick-sheet t.csv
untouched
