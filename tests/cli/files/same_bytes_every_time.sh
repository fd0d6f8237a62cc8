# SPDX-License-Identifier: MIT
# The result depends on file and profile alone.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
expect 0 adapt
mv adapted.gcode first.gcode
expect 0 adapt
cmp first.gcode adapted.gcode || fail 'a second run wrote something else'
# Passes with print time to spend run two at a time: on one processor they give the same.
if command -v taskset >/dev/null; then
  cp "$samples/cable-clip-arcs.gcode" part.gcode
  paced() { "$@" adapt part.gcode --profile auger.toml --extra-time 10% --output paced.gcode --force; }
  expect 0 paced meltlag
  mv paced.gcode first.gcode
  expect 0 paced taskset -c 0 "$(command -v meltlag)"
  cmp first.gcode paced.gcode || fail 'the number of processors changes the result'
fi
