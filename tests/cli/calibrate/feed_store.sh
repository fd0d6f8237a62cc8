# SPDX-License-Identifier: MIT
# The written G-code runs a screw with 1.5 mm³ of ready melt: the cups of bursts find it, and say so
# where there is none, where they cannot tell, and where bursts were faster than the screw follows.
write_profile auger.toml
sed -i 's/^max_flow_mm3_s = 15/max_flow_mm3_s = 8.2/; s/^delivered_factor = 1.0/delivered_factor = 0.91/' \
  auger.toml
write() {
  meltlag calibrate feed --profile auger.toml --output feed.gcode --limits --burst-sheet bursts.csv \
    --store-sheet store.csv --plain-start --nozzle-c 205 --density 1.24 "$@"
}
expect 0 write
shows '10 cups of 100 bursts or none'
shows '--read-store store.csv'
awk '/^; Cautions/ { told = NR } /^[A-Z]/ && !told { exit 1 }' feed.gcode || fail 'code before cautions'
grep -q 'Stop the print where the motor clicks or stalls' feed.gcode || fail 'no word of stalls'
expect 0 meltlag inspect feed.gcode --profile auger.toml
read_back() {
  meltlag calibrate feed --profile auger.toml --density 1.24 --scale-g 0.001 --force "$@"
}
hopper feed.gcode 0.91 8.2 1.5 | weigh_cups burst-cup 1.24 0.005 store.csv >full.csv
expect 0 read_back --read-store full.csv --output new.toml
shows 'Stands ready for a burst: 1.'
awk '/^burst_mm3 = / { b = $3 } /^burst_mm3_sd = / { sd = $3 }
  END { exit !(b > 1.3 && b < 1.7 && sd > 0 && sd < 0.12) }' new.toml || fail 'the store is not 1.5 mm³'
grep -qx 'max_flow_mm3_s = 8.2' new.toml || fail 'what is fed for long was changed'
expect 0 meltlag profile check new.toml
shows 'stand ready for a burst'
expect 0 read_back --read-store full.csv --json
python3 -c 'import json,sys; s = json.load(open(sys.argv[1]))["store"]
assert s["level"] == "told" and s["low_mm3"] < 1.5 < s["high_mm3"], s' "$MELTLAG_NOTES/results" ||
  fail 'the store is not in the JSON'

hopper feed.gcode 0.91 8.2 0 | weigh_cups burst-cup 1.24 0.005 store.csv >none.csv
expect 0 read_back --read-store none.csv
shows 'perhaps nothing'
hopper feed.gcode 0.91 8.2 40 | weigh_cups burst-cup 1.24 0.005 store.csv >much.csv
expect 0 read_back --read-store much.csv
shows 'at least'
hopper feed.gcode 0.91 8.2 1.5 | weigh_cups burst-cup 1.24 0.15 store.csv >uneven.csv
expect 0 read_back --read-store uneven.csv --output uneven.toml
shows 'cannot tell'
grep -q '^burst_mm3' uneven.toml && fail 'a store was written that cannot be told'

guard
expect 1 read_back --read-store store.csv --output x.toml
says '0 cups with a mass are too few'
expect 1 write --force --scale-g 1
says 'cannot tell the store'
says 'take a scale that resolves 0.1 g'
expect 2 meltlag calibrate feed --profile auger.toml --output x.gcode --sheet x.csv \
  --store-sheet y.csv --plain-start --nozzle-c 205
says '--store-sheet needs --limits'
untouched
cp auger.toml slow.toml
echo 'max_burst_mm3_s = 12' >>slow.toml
expect 1 meltlag calibrate feed --profile slow.toml --density 1.24 --read-store full.csv
says 'full.csv:2:4: the bursts ask for 16.4 mm³/s'
sed -i '/^max_flow_mm3_s/d' auger.toml
expect 1 write --force
says '[limits] max_flow_mm3_s'
expect 1 read_back --read-store full.csv
says 'read the cups that starve first'
