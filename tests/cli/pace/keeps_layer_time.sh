# SPDX-License-Identifier: MIT
# With --keep-layer-time the print takes as long as before, though stops are shorter or gone.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
# JSON has the adapted file first.
times() { awk '/"planned_s"/ { print $2 + 0 }' "$MELTLAG_NOTES/results" | head -2; }
for stops in '' --fastest; do
  expect 0 meltlag adapt part.gcode --profile auger.toml --output short.gcode --force --json $stops
  short=$(times)
  expect 0 meltlag adapt part.gcode --profile auger.toml --output kept.gcode --force --json $stops --keep-layer-time
  set -- $short $(times)
  awk "BEGIN { exit !($1 < $2 - 0.5 && $3 < $2 + 0.1 && $3 > 0.999 * $2) }" ||
    fail "${stops:-stops kept}: adapted $1 s, as sliced $2 s, kept $3 s"
done
