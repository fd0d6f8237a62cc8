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
