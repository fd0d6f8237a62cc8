# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
guard
expect 2 meltlag diff part.gcode missing.gcode
says 'missing.gcode: cannot open'
expect 2 meltlag diff missing.gcode part.gcode
expect 2 meltlag diff part.gcode part.gcode --profile missing.toml
says 'missing.toml'
untouched
