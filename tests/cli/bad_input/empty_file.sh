# SPDX-License-Identifier: MIT
write_profile auger.toml
: >part.gcode
refused 'empty'
