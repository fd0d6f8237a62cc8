# SPDX-License-Identifier: MIT
# Bursts by ear become limits of the screw.
write_profile auger.toml
expect 0 meltlag calibrate feed --profile auger.toml --output feed.gcode --cups 0 --limits \
  --burst-sheet bursts.csv --burst-to 60 --plain-start --nozzle-c 205
expect 2 meltlag calibrate feed --profile auger.toml --output x.gcode --cups 0 --limits \
  --plain-start --nozzle-c 205
says '--burst-sheet'
# Without --sheet there are no cups either.
expect 0 meltlag calibrate feed --profile auger.toml --output alone.gcode --limits \
  --burst-sheet alone.csv --burst-to 60 --plain-start --nozzle-c 205
cmp -s feed.gcode alone.gcode || fail 'cups were written without a sheet'
# The first three of each direction pass, the fourth clicks.
awk -F, -v OFS=, 'NR > 1 { n = ++seen[$2]; $5 = n < 4 ? "ok" : (n == 4 ? "clicks" : "") } { print }' \
  bursts.csv >heard.csv
expect 0 meltlag calibrate feed --profile auger.toml --read-bursts heard.csv --output new.toml
shows 'Screw limits'
flow=$(awk -F, '$2 == "forward" && $5 == "ok" { f = $3 } END { printf "%.3g", f }' heard.csv)
grep -qx "max_burst_mm3_s = $flow" new.toml || fail "the flow of a burst is not $flow"
grep -q '^max_burst_mm3_s_sd = ' new.toml || fail 'its deviation is not in the profile'
grep -qx 'max_flow_mm3_s = 15' new.toml || fail 'a burst changed what is fed for long'
rate=$(awk -F, '$2 == "reverse" && $5 == "ok" { r = $4 } END { printf "%.3g", 0.9 * r }' heard.csv)
grep -q "^max_speed_mm_s = .* e = $rate }" new.toml || fail "E's speed is not $rate"
expect 0 meltlag profile check new.toml
