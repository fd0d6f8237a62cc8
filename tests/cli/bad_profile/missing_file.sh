# SPDX-License-Identifier: MIT
write_part part.gcode
refused 'auger.toml'
