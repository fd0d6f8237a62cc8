# SPDX-License-Identifier: MIT
# The reference, which shares nothing with the program, finds every promise kept and the plastic better
# placed, on each sample.
judge=${MELTLAG_BINARY%/*}/tests/reference/judge
[[ -x $judge ]] || skip 'the reference judge is not built'
write_profile auger.toml
machine=(--run-on 1.5 --at-flow 5 --index 1 --acceleration 800 --jump 10,10,0.4,5
  --max-speed 300,300,20,60 --max-acceleration 9000,9000,500,5000 --max-flow 15)
# misplaced COLUMN FILE...: 2 as sliced, 3 with its flow set right, 4 adapted.
misplaced() {
  "$judge" "${@:2}" "${machine[@]}" | awk -v column="$1" '/^misplaced_percent/ { print $column }'
}

for name in seed-tray-foot cable-clip-arcs numbered-absolute; do
  cp "$samples/$name.gcode" part.gcode
  expect 0 adapt --force
  expect 0 "$judge" part.gcode adapted.gcode --invariants "${machine[@]}"
  before=$(misplaced 2 part.gcode)
  after=$(misplaced 4 part.gcode adapted.gcode)
  awk "BEGIN { exit !($after < 0.75 * $before) }" || fail "$name: misplaced $before -> $after %"
done
