# SPDX-License-Identifier: MIT
# A key that adapt cannot do without; its absence is named together with what to type.
write_part part.gcode
write_profile whole.toml
for key in run_on_mm3 at_flow_mm3_s flow_index acceleration_mm_s2 corner_jump_mm_s max_speed_mm_s \
    max_acceleration_mm_s2; do
  grep -v "^$key = " whole.toml >auger.toml
  refused "$key is missing"
  says "auger.toml"
  says "type \`$key = "
done
