# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
printf 'G1 X20 \0\1\2 E1\n' >>part.gcode
refused 'part.gcode:18:8: is a binary file'
