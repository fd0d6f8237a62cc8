# SPDX-License-Identifier: MIT
# What a part weighs and how long it took, without any sheet.
write_profile auger.toml
write_part part.gcode
printf '[material]\ndensity_g_cm3 = 1.24 # of the box\n' >>auger.toml
expect 0 meltlag compare part.gcode --profile auger.toml --mass 0.02g --output new.toml
shows 'Delivered factor'
grep -q '# of the box' new.toml || fail 'a comment was lost'
grep -q '^delivered_factor_sd = ' new.toml || fail 'the deviation is not in the profile'
expect 0 meltlag profile check new.toml
guard
expect 1 meltlag compare part.gcode --profile auger.toml --mass 0.02g --output new.toml
says 'already there'
expect 1 meltlag compare part.gcode --profile auger.toml --mass heavy
says '--mass'
expect 1 meltlag compare part.gcode --profile auger.toml --took 1:99
says '--took'
expect 2 meltlag compare part.gcode --profile auger.toml --took 0:20 --output other.toml
untouched
expect 0 meltlag compare part.gcode --profile auger.toml --mass 0,02 --took 0:30 --json
python3 - "$MELTLAG_NOTES/results" <<'PYTHON'
import json, sys
page = json.load(open(sys.argv[1]))
assert page["mass"]["mass_g"] == 0.02
mass = page["mass"]
assert abs(mass["delivered_factor"] - mass["profile_delivered_factor"] * 0.02 / mass["predicted_g"]) < 1e-12
assert page["time"]["took_s"] == 30
assert len(page["time"]["entries"]) == 5
PYTHON
slower=$(python3 -c 'import json, sys
print(1.1 * json.load(open(sys.argv[1]))["time"]["planned_s"])' "$MELTLAG_NOTES/results")
expect 0 meltlag compare part.gcode --profile auger.toml --took "$slower"
shows 'What may be wrong, the likeliest first'
