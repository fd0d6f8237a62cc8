# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
expect 0 adapt
expect 0 meltlag adapt part.gcode --profile auger.toml --output -
cmp adapted.gcode "$MELTLAG_NOTES/results" || fail 'stdout is not what --output writes'
