# SPDX-License-Identifier: MIT
# A reader that goes away, like head, is no fault.
write_profile auger.toml
write_part part.gcode
mkfifo pipe
for command in '--help' 'inspect part.gcode' 'predict part.gcode --profile auger.toml'; do
  (exec <pipe) &   # opens the pipe and goes away
  exec 5>pipe
  wait $!
  status=0
  meltlag $command >&5 2>"$MELTLAG_NOTES/messages" || status=$?
  exec 5>&-
  [[ $status -eq 0 ]] || fail "'$command' ended with status $status"
  ! grep -qi 'pipe' "$MELTLAG_NOTES/messages" || fail "'$command' complains about the pipe"
done
