# SPDX-License-Identifier: MIT
# Each row: a key, a value it must not have. The message names key and line.
write_part part.gcode
write_profile whole.toml
while read -r key value; do
  sed "s/^$key = .*/$key = $value/" whole.toml >auger.toml
  ! cmp -s whole.toml auger.toml || fail "the row '$key $value' changes nothing"
  refused "$key"
  says "auger.toml:$(grep -n "^$key = " auger.toml | cut -d: -f1)"
done <<'ROWS'
run_on_mm3 -1.5
run_on_mm3 0
run_on_mm3 nan
run_on_mm3 inf
run_on_mm3 "much"
at_flow_mm3_s 0
at_flow_mm3_s -5
flow_index nan
flow_index 0
delivered_factor 0
delivered_factor "one"
slicer_diameter_mm -1.75
acceleration_mm_s2 0
acceleration_mm_s2 nan
acceleration_mm_s2 true
corner_rule "sharp"
corner_rule 5
max_speed_mm_s { x = 300, y = -300, z = 20, e = 60 }
max_speed_mm_s { x = 300, y = 300, z = 20 }
max_acceleration_mm_s2 9000
max_flow_mm3_s 0
max_flow_mm3_s -15
max_flow_mm3_s inf
ROWS
