# SPDX-License-Identifier: MIT
# A file that cannot be adapted stays as it was, in place too.
write_profile auger.toml
write_part part.gcode
echo 'G1 X20 Yoops E1' >>part.gcode
guard
expect 1 meltlag adapt --profile auger.toml --in-place part.gcode
says 'part.gcode:18:8'
untouched
