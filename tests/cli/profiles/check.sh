# SPDX-License-Identifier: MIT
# In words, with the next command to type; a fault names its place.
for profile in bench-auger-printed bench-auger-braced; do
  expect 0 meltlag profile check "$profiles/$profile.toml"
  shows 'run-on'
  shows 'meltlag adapt'
done
write_profile auger.toml
sed -i '/^\[lag\]/,/^flow_index/d' auger.toml
expect 0 meltlag profile check auger.toml
shows '[lag]'
sed -i 's/^max_flow_mm3_s/max_flow_mm3/' auger.toml
expect 1 meltlag profile check auger.toml
says "'max_flow_mm3_s'"
expect 1 meltlag profile check missing.toml
says 'missing.toml'

# What the screw can do for long and in a burst is told, and what cannot be is called odd.
write_profile limits.toml
printf 'burst_mm3 = 1.5\nburst_mm3_sd = 0.2\nmax_burst_mm3_s = 12\n' >>limits.toml
expect 0 meltlag profile check limits.toml
shows '15 mm³/s for long; 1.50 ± 0.20 mm³ stand ready for a burst'
shows 'are the two swapped?'
sed -i 's/^burst_mm3 = 1.5/burst_mm3 = -1.5/' limits.toml
expect 1 meltlag profile check limits.toml
says 'limits.toml:17:13: [limits] burst_mm3 is -1.5: it must not be negative'
