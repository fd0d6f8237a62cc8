# SPDX-License-Identifier: MIT
# A reader of the adapted file that goes away, like head, is no fault either.
write_profile auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
mkfifo pipe
(exec <pipe) &
exec 5>pipe
wait $!
status=0
meltlag adapt part.gcode --profile auger.toml --output - --quiet >&5 2>"$MELTLAG_NOTES/messages" || status=$?
exec 5>&-
[[ $status -eq 0 ]] || fail "ended with status $status"
[[ ! -s $MELTLAG_NOTES/messages ]] || fail 'complains about the pipe'
