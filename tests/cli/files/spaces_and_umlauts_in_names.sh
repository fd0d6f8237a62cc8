# SPDX-License-Identifier: MIT
write_profile 'my auger.toml'
write_part 'Füße 2.gcode'
expect 0 meltlag adapt 'Füße 2.gcode' --profile 'my auger.toml' --output 'Füße 2 fertig.gcode'
[[ -s 'Füße 2 fertig.gcode' ]] || fail 'no output'
