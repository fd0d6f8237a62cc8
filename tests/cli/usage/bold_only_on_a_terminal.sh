# SPDX-License-Identifier: MIT
# The main figure is bold where a person looks on, and nowhere else.
command -v script >/dev/null || skip 'there is no script command to make a terminal'
write_profile auger.toml
write_part part.gcode
command='meltlag predict part.gcode --profile auger.toml'
bold=$'\033[1mmisplaced plastic'
on_terminal() { env -u NO_COLOR TERM=xterm "$@" script -qec "$command" /dev/null </dev/null >seen; }
on_terminal
grep -qF "$bold" seen || fail 'nothing is bold on a terminal'
for setting in NO_COLOR=1 TERM=dumb; do
  on_terminal "$setting"
  grep -q 'misplaced plastic' seen || fail "nothing was shown with $setting"
  if grep -q $'\033' seen; then fail "escape sequences with $setting"; fi
done
TERM=xterm expect 0 $command
shows 'misplaced plastic'
if grep -q $'\033' "$MELTLAG_NOTES/results"; then fail 'escape sequences in a pipe'; fi
