# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
guard
expect 1 meltlag adapt part.gcode --profile auger.toml --output /dev/full
says 'No space left'
untouched
[[ -c /dev/full ]] || fail '/dev/full was replaced'
