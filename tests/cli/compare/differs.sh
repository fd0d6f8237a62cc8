# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
expect 0 adapt
expect 1 meltlag diff part.gcode adapted.gcode --profile auger.toml
[[ -s $MELTLAG_NOTES/results ]] || fail 'nothing shown'
expect 1 meltlag diff part.gcode adapted.gcode
expect 1 meltlag diff part.gcode adapted.gcode --profile auger.toml --csv moves.csv
[[ $(wc -l <moves.csv) -gt 4 ]] || fail 'moves.csv is too short'
