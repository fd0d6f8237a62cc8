# SPDX-License-Identifier: MIT
write_profile auger.toml
grep -v 'E' >part.gcode < <(write_part /dev/stdout)
expect 0 adapt
says 'extru'
diff part.gcode <(grep -v '^; adapted by meltlag' adapted.gcode) >&2 || fail 'lines were changed'
