# SPDX-License-Identifier: MIT
# Every table has a form for other programs.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
expect 0 adapt
is_json() { python3 -m json.tool "$MELTLAG_NOTES/results" >/dev/null || fail "no JSON: $1"; }
expect 0 meltlag inspect part.gcode --profile auger.toml --json
is_json inspect
expect 0 meltlag predict part.gcode --profile auger.toml --json
is_json predict
expect 1 meltlag diff part.gcode adapted.gcode --profile auger.toml --json
is_json diff
expect 0 meltlag profile check auger.toml --json
is_json 'profile check'
expect 0 adapt --force --json
is_json adapt
