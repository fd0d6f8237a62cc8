# SPDX-License-Identifier: MIT
# Masses become a verdict and a profile with its comments kept.
write_profile auger.toml
printf '[material]\ndensity_g_cm3 = 1.24 # of the box\n' >>auger.toml
expect 0 meltlag calibrate feed --profile auger.toml --output feed.gcode --sheet cups.csv \
  --flows 3,6,12 --plain-start --nozzle-c 205
# weigh SPREAD: masses of 0.95 of what was commanded, every other cup up or down by SPREAD.
weigh() {
  awk -F, -v OFS=, -v spread="$1" 'NR > 1 { k = int((NR - 2) / 3)
    $5 = sprintf("%.4f", $3 * 1.24e-3 * 0.95 * (1 + (k % 2 ? spread : -spread))) } { print }' cups.csv
}
judge() { meltlag calibrate feed --profile auger.toml --scale-g 0.001 "$@"; }
weigh 0.01 >even.csv
expect 0 judge --read even.csv
shows 'Even enough'
shows '0.950 ±'
shows 'delivered_factor = 0.95'
expect 0 judge --read even.csv --details
shows 'Criteria'
shows 'own scatter'
weigh 0.08 >uneven.csv
expect 0 judge --read uneven.csv
shows 'repair the hopper first'
[[ -z $(awk 'length($0) > 90' "$MELTLAG_NOTES/results") ]] || fail 'lines are too long'

weigh 0.01 | sed 's/\./@/g; s/,/;/g; s/@/,/g' >german.csv
expect 0 judge --read german.csv --output new.toml
shows 'semicolons separate the columns'
shows 'decimal commas'
shows 'Wrote new.toml'
grep -qx 'delivered_factor = 0.95' new.toml || fail 'the factor is not in the profile'
grep -q '^delivered_factor_sd = ' new.toml || fail 'its deviation is not in the profile'
grep -q '# of the box' new.toml || fail 'a comment was lost'
expect 0 meltlag profile check new.toml

guard
expect 1 judge --read even.csv --output new.toml
says 'already there'
expect 1 judge --read cups.csv --output other.toml
says '0 cups with a mass are too few'
expect 1 judge --read missing.csv --output other.toml
says 'missing.csv'
sed 's/mass_g/mass_kg/' even.csv >kg.csv
expect 1 judge --read kg.csv
says "is 'mass_kg' meant to be 'mass_g'?"
sed '5s/,60,[^,]*,/,60,0.3 oz,/' even.csv >ounces.csv
expect 1 judge --read ounces.csv
says 'ounces.csv:5:5'
rm kg.csv ounces.csv
untouched
sed -i '/^\[material\]/,$d' auger.toml
expect 1 judge --read even.csv
says '--density'
expect 0 judge --read even.csv --density 1.24 --json
python3 -c 'import json,sys; assert json.load(open(sys.argv[1]))["feed"]["level"] == "even"' \
  "$MELTLAG_NOTES/results" || fail 'no verdict in the JSON'
