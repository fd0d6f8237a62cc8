# SPDX-License-Identifier: MIT
# A profile that says how well the lag is known: the range is shown, --robust needs it.
write_profile auger.toml
write_part part.gcode
guard
expect 1 meltlag adapt part.gcode --profile auger.toml --output out.gcode --robust
says 'run_on_mm3_sd'
untouched
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 5.0\nrun_on_mm3_sd = 1.5\nflow_index_sd = 0.12/' auger.toml
expect 0 meltlag adapt part.gcode --profile auger.toml --output out.gcode --robust
says 'on average'
expect 0 meltlag adapt part.gcode --profile auger.toml --output out2.gcode
says 'on average'
