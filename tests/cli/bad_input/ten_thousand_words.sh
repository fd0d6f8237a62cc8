# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
{ printf 'G1'; printf ' X1%.0s' {1..10000}; echo; } >>part.gcode
refused 'part.gcode:18:'
