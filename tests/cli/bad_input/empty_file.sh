# SPDX-License-Identifier: MIT
# Nothing to do is no fault, but it is said.
write_profile auger.toml
: >part.gcode
expect 0 adapt
says 'extrudes nothing'
[[ ! -s part.gcode ]] || fail 'the input was changed'
[[ $(wc -l <adapted.gcode) -le 1 ]] || fail 'the output holds more than the comment line'
