# SPDX-License-Identifier: MIT
write_profile auger.toml
mkdir part.gcode
refused 'part.gcode: is a directory'
