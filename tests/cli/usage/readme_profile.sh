# SPDX-License-Identifier: MIT
# The profile printed in profiles/README.md is a whole one.
write_part part.gcode
sed -n '/^```toml$/,/^```$/p' "$profiles/README.md" | sed '/^```/d' >auger.toml
[[ -s auger.toml ]] || fail 'the page shows no profile'
expect 0 adapt
