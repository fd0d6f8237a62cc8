# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
echo 'yesterday' >adapted.gcode
refused '--force'
expect 0 adapt --force
! grep -q yesterday adapted.gcode || fail 'adapted.gcode was not replaced'
