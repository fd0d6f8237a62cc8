# SPDX-License-Identifier: MIT
# The way back: the file as sliced stays beside the adapted one, also when a slicer writes anew.
write_profile auger.toml
write_part part.gcode
cp part.gcode "$MELTLAG_NOTES/first"
expect 0 meltlag adapt --profile auger.toml --in-place --keep-original part.gcode
says 'part.gcode.as-sliced'
cmp part.gcode.as-sliced "$MELTLAG_NOTES/first" || fail 'the copy is not the original'

# A second call adapts the kept original with the new profile; it stays the original.
sed 's/^run_on_mm3 = .*/run_on_mm3 = 3.0/' auger.toml >other.toml
cp "$MELTLAG_NOTES/first" fresh.gcode
expect 0 meltlag adapt fresh.gcode --profile other.toml --output wanted.gcode
expect 0 meltlag adapt --profile other.toml --in-place --keep-original part.gcode
says 'made anew from part.gcode.as-sliced'
cmp part.gcode wanted.gcode || fail 'not what the original gives with that profile'
cmp part.gcode.as-sliced "$MELTLAG_NOTES/first" || fail 'the copy is no longer the original'
expect 0 meltlag adapt part.gcode --profile other.toml --output again.gcode
cmp again.gcode wanted.gcode || fail 'not what the original gives into another file'

# Back to what the slicer wrote.
expect 2 meltlag adapt part.gcode --restore --in-place
expect 0 meltlag adapt part.gcode --restore
cmp part.gcode "$MELTLAG_NOTES/first" || fail 'not put back'
[[ ! -e part.gcode.as-sliced ]] || fail 'the copy is still there'
guard
expect 1 meltlag adapt part.gcode --restore
says 'no original'
untouched
expect 0 meltlag adapt --profile auger.toml --in-place --keep-original part.gcode

# A copy of another part is not taken for the original, and a profile is still needed to adapt.
sed 's/X50/X54/' "$MELTLAG_NOTES/first" >other.gcode
cmp -s other.gcode "$MELTLAG_NOTES/first" && fail 'the other part is the same'
cp part.gcode.as-sliced right.as-sliced
mv other.gcode part.gcode.as-sliced
guard
expect 1 meltlag adapt --profile auger.toml --in-place part.gcode
says 'not the file that it was adapted from'
expect 1 meltlag adapt part.gcode --restore
untouched
mv right.as-sliced part.gcode.as-sliced
expect 2 meltlag adapt part.gcode --output out.gcode

{ cat "$MELTLAG_NOTES/first"; echo 'G1 X12 Y32 E3 F1500'; } >part.gcode
cp part.gcode "$MELTLAG_NOTES/second"
expect 0 meltlag adapt --profile auger.toml --in-place --keep-original part.gcode
cmp part.gcode.as-sliced "$MELTLAG_NOTES/second" || fail 'the copy is an older one'
mv part.gcode.as-sliced part.gcode
expect 0 meltlag adapt --profile auger.toml --in-place part.gcode
expect 2 meltlag adapt part.gcode --profile auger.toml --output out.gcode --keep-original
