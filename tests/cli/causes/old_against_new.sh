# SPDX-License-Identifier: MIT
# The braced build is better than the printed one; a build cannot be told from itself.
printed=$profiles/bench-auger-printed.toml braced=$profiles/bench-auger-braced.toml
verdict() { expect 0 meltlag causes "$1" --against "$2" --json; }
check() {
  python3 - "$MELTLAG_NOTES/results" "$@" <<'PYTHON'
import json, sys
prints = json.load(open(sys.argv[1]))["against"]["prints"]
for name in ("run-on", "blob", "gap"):
    assert prints[name]["verdict"] == sys.argv[2], (name, prints[name])
PYTHON
}
verdict "$braced" "$printed"
check better
verdict "$printed" "$braced"
check worse
verdict "$printed" "$printed"
check 'cannot tell'

# One print of a build is not enough.
cp -r "$profiles/materials" .
sed '/^\[\[measured\]\]/,/^$/d' "$printed" >one.toml
sed -i 's/^use = .*/mix = [{ use = "pla", parts = 1 }]/' one.toml
printf '[[measured]]\nblob_mm3 = 0.9\n' >>one.toml
expect 0 meltlag causes "$braced" --against one.toml --file "$samples/cable-clip-arcs.gcode"
shows 'cannot tell'
shows 'at least two prints of each build'
shows 'misplaced as sliced'
expect 1 meltlag causes "$braced" --against missing.toml
