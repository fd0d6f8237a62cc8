# SPDX-License-Identifier: MIT
write_part part.gcode
write_profile auger.toml
sed -i '/^\[lag\]/,/^flow_index/d' auger.toml
refused 'needs [lag] or the parts'
says 'calibrate print'
says 'profile check'
