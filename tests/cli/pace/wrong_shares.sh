# SPDX-License-Identifier: MIT
# Shares that are none: status 2, nothing written.
write_profile auger.toml
write_part part.gcode
guard
for share in abc -5% 15%% '' 1e9%; do
  expect 2 meltlag adapt part.gcode --profile auger.toml --output out.gcode "--extra-time=$share"
  expect 2 meltlag adapt part.gcode --profile auger.toml --output out.gcode "--target=$share"
done
expect 2 meltlag inspect part.gcode --advise
says '--profile'
untouched
