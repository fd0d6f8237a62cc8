# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
expect 0 adapt
mv adapted.gcode part.gcode
refused 'adapted'
expect 0 meltlag inspect part.gcode
shows 'adapted'
