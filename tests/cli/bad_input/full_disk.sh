# SPDX-License-Identifier: MIT
# A limit on the size of files stands in for a full disk: the write fails half-way.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
guard
within_8_kib() { (trap '' XFSZ && ulimit -f 8 && "$@"); }
expect 1 within_8_kib meltlag adapt part.gcode --profile auger.toml --output adapted.gcode
says 'cannot write'
untouched
expect 1 within_8_kib meltlag adapt --profile auger.toml --in-place part.gcode
says 'cannot write'
untouched
