# SPDX-License-Identifier: MIT
# The way back: the file as sliced stays beside the adapted one, also when a slicer writes anew.
write_profile auger.toml
write_part part.gcode
cp part.gcode "$MELTLAG_NOTES/first"
expect 0 meltlag adapt --profile auger.toml --in-place --keep-original part.gcode
says 'part.gcode.as-sliced'
cmp part.gcode.as-sliced "$MELTLAG_NOTES/first" || fail 'the copy is not the original'

# A second call on the adapted file is refused and must not put it in the original's place.
guard
expect 1 meltlag adapt --profile auger.toml --in-place --keep-original part.gcode
untouched

{ cat "$MELTLAG_NOTES/first"; echo 'G1 X12 Y32 E3 F1500'; } >part.gcode
cp part.gcode "$MELTLAG_NOTES/second"
expect 0 meltlag adapt --profile auger.toml --in-place --keep-original part.gcode
cmp part.gcode.as-sliced "$MELTLAG_NOTES/second" || fail 'the copy is an older one'
mv part.gcode.as-sliced part.gcode
expect 0 meltlag adapt --profile auger.toml --in-place part.gcode
expect 2 meltlag adapt part.gcode --profile auger.toml --output out.gcode --keep-original
