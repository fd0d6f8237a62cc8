# SPDX-License-Identifier: MIT
write_part part.gcode
expect 0 meltlag diff part.gcode part.gcode
