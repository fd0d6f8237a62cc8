# SPDX-License-Identifier: MIT
write_profile auger.toml
write_part part.gcode
ln -s part.gcode link.gcode
ln part.gcode twin.gcode
for output in part.gcode ./part.gcode link.gcode twin.gcode; do
  for force in '' --force; do
    guard
    expect 1 meltlag adapt part.gcode --profile auger.toml --output "$output" $force
    says '--in-place'
    untouched
  done
done
[[ -L link.gcode ]] || fail 'the link was replaced'
