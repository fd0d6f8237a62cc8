# SPDX-License-Identifier: MIT
write_part part.gcode
write_profile auger.toml
sed -i 's/^run_on_mm3/runon_mm3/' auger.toml
refused "unknown key 'runon_mm3'"
says "'run_on_mm3'"
says 'auger.toml:6'
