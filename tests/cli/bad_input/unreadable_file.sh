# SPDX-License-Identifier: MIT
# Root may read everything, so the test steps down to nobody, who must reach the program.
write_profile auger.toml
write_part part.gcode
chmod 0 part.gcode
as_reader=()
if [[ $(id -u) -eq 0 ]]; then
  chmod 755 .. && chmod 777 .
  as_reader=(setpriv --reuid 65534 --regid 65534 --clear-groups)
  "${as_reader[@]}" "$MELTLAG_BINARY" --version >/dev/null 2>&1 ||
    skip "nobody cannot start the program here"
fi
expect 1 "${as_reader[@]}" "$MELTLAG_BINARY" adapt part.gcode --profile auger.toml \
  --output adapted.gcode
says 'part.gcode: cannot open: Permission denied'
says 'permissions'
chmod 600 part.gcode
[[ ! -e adapted.gcode ]] || fail 'an output was left behind'
