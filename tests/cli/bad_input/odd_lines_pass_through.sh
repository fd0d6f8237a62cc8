# SPDX-License-Identifier: MIT
# Nothing that is no motion is lost, however odd.
write_profile auger.toml
write_part part.gcode
printf '%s\n' 'START_OF_SHIFT bed=60' 'M117 *20 % done*' 'M42 M1 P74 S0' '# a macro' \
  'M150 R255' >odd_lines
cat odd_lines >>part.gcode
expect 0 adapt
while read -r line; do
  grep -qxF -- "$line" adapted.gcode || fail "lost: $line"
done <odd_lines
