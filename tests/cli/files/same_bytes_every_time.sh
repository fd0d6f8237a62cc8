# SPDX-License-Identifier: MIT
# The result hangs on file and profile alone.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
expect 0 adapt
mv adapted.gcode first.gcode
expect 0 adapt
cmp first.gcode adapted.gcode || fail 'a second run wrote something else'
