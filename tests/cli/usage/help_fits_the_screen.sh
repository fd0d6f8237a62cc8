# SPDX-License-Identifier: MIT
# Every help text: status 0, nothing on stderr, at most 80 columns, one example.
for command in '' adapt predict diff inspect profile 'profile new' 'profile check' 'profile keys' \
  calibrate 'calibrate feed' 'calibrate print' 'calibrate scan' 'calibrate fit' 'calibrate stiffness' \
  'calibrate hardware' 'calibrate recheck' 'calibrate timing' \
  causes builds compare; do
  expect 0 meltlag $command --help
  [[ ! -s $MELTLAG_NOTES/messages ]] || fail "'$command --help' wrote to stderr"
  shows 'Example: meltlag '"$command"
  wide=$(awk 'length($0) > 80' "$MELTLAG_NOTES/results")
  [[ -z $wide ]] || fail "'$command --help' is too wide: $wide"
done
