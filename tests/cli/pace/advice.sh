# SPDX-License-Identifier: MIT
write_profile auger.toml
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 5.0/' auger.toml
cp "$samples/numbered-absolute.gcode" part.gcode
expect 0 meltlag inspect part.gcode --profile auger.toml --advise
shows 'All print speeds to'
shows 'shorter than your lag'
expect 0 meltlag inspect part.gcode --profile auger.toml --advise --json
shows '"better_sliced_again"'
