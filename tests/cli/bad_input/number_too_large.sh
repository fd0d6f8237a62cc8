# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
echo 'G1 X20 Y10000000 E1' >>part.gcode
refused 'part.gcode:18:8'

write_part part.gcode
echo "G1 X$(printf '9%.0s' {1..400}) E1" >>part.gcode
refused 'part.gcode:18:4'

write_part part.gcode
echo 'G1 Xinf E1' >>part.gcode
refused 'part.gcode:18:4'
