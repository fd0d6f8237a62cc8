# SPDX-License-Identifier: MIT
# Two files that Meltlag never wrote; it says where their paths part.
write_part part.gcode
sed 's/X50 Y30/X50 Y31/' part.gcode >other.gcode
expect 1 meltlag diff part.gcode other.gcode
shows '11'
sed 's/^; cable clip.*/; another comment/' part.gcode >comment.gcode
expect 1 meltlag diff part.gcode comment.gcode
shows 'The moves are the same'
