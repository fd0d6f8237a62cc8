# SPDX-License-Identifier: MIT
# As slicers call it, the file last.
write_profile auger.toml
write_part part.gcode
cp part.gcode original.gcode
chmod 640 part.gcode
expect 0 adapt
mv adapted.gcode "$MELTLAG_NOTES/adapted"
expect 0 meltlag adapt --profile auger.toml --in-place part.gcode
cmp part.gcode "$MELTLAG_NOTES/adapted" || fail 'not what --output writes'
[[ $(stat -c %a part.gcode) == 640 ]] || fail 'the permissions changed'
[[ $(ls | wc -l) -eq 3 ]] || fail "left behind: $(ls)"
