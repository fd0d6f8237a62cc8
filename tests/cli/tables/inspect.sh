# SPDX-License-Identifier: MIT
write_part part.gcode
expect 0 meltlag inspect part.gcode
for text in '0.3' '50' 'M104' 'G28'; do shows "$text"; done
write_profile auger.toml
expect 0 meltlag inspect part.gcode --profile auger.toml
shows 'mm³/s'
