# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
guard
while read -r arguments; do
  expect 2 meltlag $arguments
  says 'meltlag: '
  says '--help'
  [[ ! -s $MELTLAG_NOTES/results ]] || fail "'$arguments' wrote to stdout"
done <<'ROWS'

adopt part.gcode
--verse
adapt
adapt part.gcode
adapt part.gcode --profile auger.toml
adapt --profile auger.toml --in-place
adapt part.gcode --output adapted.gcode
adapt part.gcode --profile auger.toml --in-place --output adapted.gcode
adapt part.gcode --profile auger.toml --output adapted.gcode --verse
diff part.gcode
predict part.gcode
inspect
profile
profile check
ROWS
untouched
