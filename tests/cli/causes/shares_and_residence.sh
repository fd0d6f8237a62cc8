# SPDX-License-Identifier: MIT
# Causes, residence time, barrier and what would help; every line fits the screen; JSON says the same.
for profile in bench-auger-printed bench-auger-braced; do
  expect 0 meltlag causes "$profiles/$profile.toml" --file "$samples/seed-tray-foot.gcode"
  shows 'together'
  shows 'twice as stiff'
  shows 'plastic hot for'
  shows 'Heat barrier'
  shows 'no figure'
  python3 - "$MELTLAG_NOTES/results" <<'PYTHON'
import sys
wide = [line for line in open(sys.argv[1], encoding="utf-8") if len(line.rstrip("\n")) > 80]
assert not wide, wide
PYTHON
done
expect 0 meltlag causes "$profiles/bench-auger-printed.toml" --at-flow 2 --json
python3 - "$MELTLAG_NOTES/results" <<'PYTHON'
import json, sys
page = json.load(open(sys.argv[1]))
assert page["at_flow_mm3_s"] == 2
shares = [cause["share"] for cause in page["parts"]["causes"]]
assert abs(sum(shares) - 1) < 1e-12, shares
assert page["parts"]["least_run_on_mm3"] < page["parts"]["run_on_mm3"]
assert page["finding"]["reading"] == "cannot tell"  # ± of half of it
assert page["residence"]["shortest_s"] < page["residence"]["mean_s"]
barrier = page["heat_barrier"]["working"]
assert barrier["leak_w"] < barrier["from_hot_end_w"]
PYTHON

# A profile with a lag and no parts says what the parts need; one with neither tells it too.
write_profile auger.toml
expect 0 meltlag causes auger.toml
shows '[barrel] sections'
expect 2 meltlag causes auger.toml --at-flow 0
expect 2 meltlag causes auger.toml --at-flow -1
expect 1 meltlag causes missing.toml
says 'missing.toml'
expect 1 meltlag causes "$profiles/bench-auger-printed.toml" --file missing.gcode
says 'missing.gcode'

# Impossible geometry is an error that names the key.
cp -r "$profiles/materials" .
sed 's/screw_core_mm = 9/screw_core_mm = 12/' "$profiles/bench-auger-printed.toml" >wide.toml
expect 1 meltlag causes wide.toml
says 'screw_core_mm is 12, in a bore of 12 mm'
sed '/^hole_length_mm/d' "$profiles/bench-auger-printed.toml" >short.toml
expect 1 meltlag causes short.toml
says 'hole_length_mm is missing'
sed 's/outer_mm = 14/outer_mm = 10/' "$profiles/bench-auger-printed.toml" >thin.toml
expect 1 meltlag causes thin.toml
says '10 mm wide outside and 12 mm inside'
