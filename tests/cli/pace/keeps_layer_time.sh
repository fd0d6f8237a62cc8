# SPDX-License-Identifier: MIT
# With --keep-layer-time the print takes as long as before, though stops are gone.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
expect 0 meltlag adapt part.gcode --profile auger.toml --output short.gcode --fastest --json
short=$(awk '/"planned_s"/ { print $2 + 0 }' "$MELTLAG_NOTES/results" | head -2)
expect 0 meltlag adapt part.gcode --profile auger.toml --output kept.gcode --fastest --keep-layer-time --json
kept=$(awk '/"planned_s"/ { print $2 + 0 }' "$MELTLAG_NOTES/results" | head -2)
set -- $short $kept
# JSON has the adapted file first.
awk "BEGIN { exit !($1 < $2 - 0.5 && $3 < $2 + 0.5 && $3 > $2 - 0.1) }" ||
  fail "adapted $1 s, as sliced $2 s, kept $3 s"
