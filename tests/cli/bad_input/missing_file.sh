# SPDX-License-Identifier: MIT
write_profile auger.toml
refused 'part.gcode: cannot open: No such file'
for command in 'inspect' 'predict --profile auger.toml'; do
  expect 1 meltlag $command part.gcode
  says 'part.gcode: cannot open: No such file'
done
expect 2 meltlag diff part.gcode other.gcode
says 'cannot open: No such file'
