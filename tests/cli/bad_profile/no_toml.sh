# SPDX-License-Identifier: MIT
write_part part.gcode
write_profile auger.toml
echo 'max_pressure_mpa 20' >>auger.toml
refused 'auger.toml:17'
says 'TOML'
