# SPDX-License-Identifier: MIT
# Time granted: said before writing, kept to, worth it; none granted changes no byte.
slow_profile() {
  write_profile auger.toml
  sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 5.0/' auger.toml
}
slow_profile
cp "$samples/numbered-absolute.gcode" part.gcode
expect 0 meltlag adapt part.gcode --profile auger.toml --output plain.gcode
expect 0 meltlag adapt part.gcode --profile auger.toml --output none.gcode --extra-time 0%
cmp plain.gcode none.gcode || fail 'no time granted, and yet another file'
expect 0 meltlag adapt part.gcode --profile auger.toml --output paced.gcode --extra-time 15%
says 'Slower where it buys most'
says 'more than as sliced ('
judge=${MELTLAG_BINARY%/*}/tests/reference/judge
[[ -x $judge ]] || skip 'the reference judge is not built'
machine=(--run-on 5 --at-flow 5 --index 1 --acceleration 800 --jump 10,10,0.4,5
  --max-speed 300,300,20,60 --max-acceleration 9000,9000,500,5000 --max-flow 15)
figure() { "$judge" part.gcode "$2" "${machine[@]}" | awk -v name="$1" '$1 == name { print $NF }'; }
expect 0 "$judge" part.gcode paced.gcode --invariants --extra-time 0.15 "${machine[@]}"
before=$(figure misplaced_percent plain.gcode)
after=$(figure misplaced_percent paced.gcode)
awk "BEGIN { exit !($after < 0.4 * $before) }" || fail "misplaced $before -> $after %"
# Counted from the file as sliced, not from what adapting makes of it.
expect 0 meltlag adapt part.gcode --profile auger.toml --output fastest.gcode --extra-time 15% --fastest
before=$(figure planned_s part.gcode)
for paced in paced fastest; do
  after=$(figure planned_s $paced.gcode)
  awk "BEGIN { exit !($after < 1.151 * $before && $after > 1.13 * $before) }" ||
    fail "$paced: planned $before -> $after s"
done
