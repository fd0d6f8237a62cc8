# SPDX-License-Identifier: MIT
# A table never takes the place of a file that it is made from.
write_profile auger.toml
write_part part.gcode
expect 0 adapt
ln -s part.gcode link.gcode
guard
for table in part.gcode ./auger.toml link.gcode; do
  expect 1 meltlag predict part.gcode --profile auger.toml --csv "$table"
  says 'would be overwritten'
done
expect 2 meltlag diff part.gcode adapted.gcode --csv adapted.gcode
says 'would be overwritten'
untouched
