# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
echo 'G1 X20 Yoops E1' >>part.gcode
refused 'part.gcode:18:8'
says 'Yoops'
