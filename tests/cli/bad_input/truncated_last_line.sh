# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
printf 'G1 X20 Y1' >>part.gcode   # readable: it may have meant Y12, nobody can know
expect 0 adapt
rm adapted.gcode

write_part part.gcode
printf 'G1 X20 Y' >>part.gcode    # unreadable
refused 'part.gcode:18:8'
