# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
{ echo T1; echo 'G1 X10 Y32 E3.2 F1500'; echo T0; } >>part.gcode
expect 0 adapt
says 'tool'
[[ $(grep -c '^T[01]$' adapted.gcode) -eq 2 ]] || fail 'a tool change was lost'
