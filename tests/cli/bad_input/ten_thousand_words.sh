# SPDX-License-Identifier: MIT
# Every word can be read, so the line passes through as it is, with a notice.
write_profile auger.toml
write_part part.gcode
long_line="G1$(printf ' X1%.0s' {1..10000})"
echo "$long_line" >>part.gcode
expect 0 adapt
says 'same axis twice'
grep -qxF -- "$long_line" adapted.gcode || fail 'the long line was changed'
