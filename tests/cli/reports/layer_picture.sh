# SPDX-License-Identifier: MIT
# `diff --picture` draws one layer of both files; the picture in the README is what it draws today.
cp "$samples/cable-clip-arcs.gcode" part.gcode
profile=$profiles/bench-auger-printed.toml
expect 0 meltlag adapt part.gcode --profile "$profile" --output adapted.gcode --quiet
expect 1 meltlag diff part.gcode adapted.gcode --profile "$profile" --picture layer.svg
cmp layer.svg "$samples/cable-clip.svg" || fail 'samples/cable-clip.svg is old: samples/demo --refresh'
python3 - layer.svg <<'CHECK' || fail 'not a drawing'
import sys, xml.etree.ElementTree as tree
root = tree.parse(sys.argv[1]).getroot()
name = '{http://www.w3.org/2000/svg}'
paths = root.iter(name + 'path')
assert root.tag == name + 'svg' and len(list(paths)) > 20
assert not [e for e in root.iter() if e.get('href') or 'url(' in ''.join(e.attrib.values())]
CHECK

expect 1 meltlag diff part.gcode adapted.gcode --profile "$profile" --picture second.svg --layer 2
cmp -s layer.svg second.svg && fail 'the second layer looks like the first'
guard
expect 2 meltlag diff part.gcode adapted.gcode --profile "$profile" --picture none.svg --layer 99
says 'there is no layer 99'
expect 2 meltlag diff part.gcode adapted.gcode --picture none.svg
says '--picture needs --profile'
expect 2 meltlag diff part.gcode adapted.gcode --profile "$profile" --picture part.gcode
says 'would be overwritten'
expect 2 meltlag diff part.gcode adapted.gcode --profile "$profile" --picture none.svg --layer 0
untouched
