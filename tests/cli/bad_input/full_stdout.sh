# SPDX-License-Identifier: MIT
write_part part.gcode
status=0
meltlag inspect part.gcode >/dev/full 2>"$MELTLAG_NOTES/messages" || status=$?
[[ $status -eq 1 ]] || fail "status $status, expected 1"
says 'No space left'
