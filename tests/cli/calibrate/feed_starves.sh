# SPDX-License-Identifier: MIT
# The written G-code runs a screw that feeds 8.2 mm³/s for long: the cups find it, and the profile
# gets it; a screw that feeds more than is asked is told so, and the profile stays without.
write_profile auger.toml
sed -i '/^max_flow_mm3_s/d; /^\[limits\]/d' auger.toml
expect 0 meltlag calibrate feed --profile auger.toml --output feed.gcode --sheet cups.csv \
  --plain-start --nozzle-c 205
shows '32 cups'
read_back() {
  meltlag calibrate feed --profile auger.toml --density 1.24 --scale-g 0.001 --force "$@"
}
hopper feed.gcode 0.91 8.2 0 | weigh_cups cup 1.24 0.01 cups.csv >starving.csv
expect 0 read_back --read starving.csv --output new.toml
shows 'Fed for long       8.'
shows 'starves'
shows 'Even enough'
awk '/^max_flow_mm3_s = / { q = $3 } /^max_flow_mm3_s_sd = / { sd = $3 } /^delivered_factor = / { f = $3 }
  END { exit !(q > 8.05 && q < 8.35 && sd > 0 && sd < 0.1 && f > 0.9 && f < 0.92) }' new.toml ||
  fail 'the profile does not hold what the screw feeds'
expect 0 meltlag profile check new.toml
shows 'mm³/s for long'
expect 0 read_back --read starving.csv --json
python3 -c 'import json,sys; f = json.load(open(sys.argv[1]))["feed"]
assert [row["starves"] for row in f["flows"]] == [False] * 5 + [True] * 3, f["flows"]
assert abs(f["fed_for_long"]["max_flow_mm3_s"] - 8.2) < 0.15, f' "$MELTLAG_NOTES/results" ||
  fail 'the JSON does not tell what starves'

hopper feed.gcode 0.91 99 0 | weigh_cups cup 1.24 0.01 cups.csv >fed.csv
expect 0 read_back --read fed.csv --output fed.toml
shows 'no cup starved up to 23 mm³/s'
grep -q '^max_flow_mm3_s' fed.toml && fail 'a flow was written although no cup starved'

guard
expect 0 meltlag calibrate feed --profile auger.toml --output few.gcode --sheet few.csv \
  --flows 14,18,22 --plain-start --nozzle-c 205
hopper few.gcode 0.91 8.2 0 | weigh_cups cup 1.24 0.01 few.csv >all.csv
rm few.gcode few.csv
expect 1 read_back --read all.csv --output x.toml
says 'all.csv: every flow starves'
says 'run flows that begin at about 2'
rm all.csv
untouched
