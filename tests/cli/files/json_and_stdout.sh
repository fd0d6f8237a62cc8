# SPDX-License-Identifier: MIT
# Figures and file cannot share standard output; where the figures cannot be told, nothing is written.
write_profile auger.toml
write_part part.gcode
expect 2 meltlag adapt part.gcode --profile auger.toml --output - --json
guard
status=0
meltlag adapt --profile auger.toml --in-place part.gcode --json >/dev/full 2>"$MELTLAG_NOTES/messages" || status=$?
[[ $status -eq 1 ]] || fail "status $status"
untouched
