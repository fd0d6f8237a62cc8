# SPDX-License-Identifier: MIT
# Every example of the README runs as it stands there, in its order. What a person does in between is
# done here: the cups are weighed, the test piece is printed and measured by the reference.
measure=${MELTLAG_BINARY%/*}/tests/reference/measure
picture=${MELTLAG_BINARY%/*}/tests/reference/picture
[[ -x $measure && -x $picture ]] || skip 'the reference is not built'
cp "$samples/cable-clip-arcs.gcode" part.gcode
cp "$samples/printer-settings.txt" printer.txt
cp "$profiles/bench-auger-printed.toml" bench-auger-printed.toml
cp bench-auger-printed.toml printed.toml
cp "$profiles/bench-auger-braced.toml" braced.toml
awk 'BEGIN { print "gcode_line,width_mm" } /^G1 X.* E[1-9]/ && n++ < 6 { print NR ",0.8" }' part.gcode \
  >measured.csv

# The answers of someone who knows no more than what the screw feeds.
answers() { printf 'Bench auger\n1.75\n\n\n\n\n\n\n\n\n\n\n\npla\n15\n\n\n\n'; }

weigh_cups() {
  awk -F, -v OFS=, 'NR > 1 { $5 = sprintf("%.4f", $3 * 1.24e-3 * (NR % 2 ? 0.955 : 0.965)) } { print }' \
    cups.csv >weighed && mv weighed cups.csv
}

print_and_measure() {
  "$measure" TEST.gcode SHEET.csv --run-on 4 --at-flow 5 --index 0.6 --factor 0.96 --seed 3 \
    --acceleration 1000 --jump 10,10,0.4,5 --max-speed 500,500,20,60 \
    --max-acceleration 9000,9000,500,5000 >filled && mv filled SHEET.csv
}

measure_hardware() {
  local print
  for print in old1:2.4 old2:2.5 new1:1.6 new2:1.62; do
    awk -F, -v OFS=, -v blob="${print#*:}" 'NR > 1 { $3 = blob + 0.1 * (NR % 5 - 2); $4 = 1.0; $5 = 6 }
      { print }' HW.csv >"${print%:*}.csv"
  done
}

afterwards() {
  case $1 in
    *'feed --profile'*--sheet*) weigh_cups ;;
    *'calibrate print TEST'*) print_and_measure ;;
    *'calibrate print RINGS'*) "$picture" RINGS.gcode scan.png --dpi 300 --run-on 4 --index 0.6 >truth.csv ;;
    *'calibrate print --hardware'*) measure_hardware ;;
    *"fit "*) cp bench-auger-printed.toml auger.toml ;;  # from here on it is a finished profile
    *'timing.gcode times.csv'*--plain-start*) awk -F, -v OFS=, 'NR > 1 { $4 = $3 } { print }' times.csv >filled && mv filled times.csv ;;
    *--side-by-side*) sed -i '/^A[0-9]/s/$/yes/' pair.gcode.ticks.csv ;;
  esac
}

count=0
while IFS= read -r example; do
  example=${example%%  #*}
  wanted=0
  [[ $example != 'meltlag diff'* ]] || wanted=1
  echo "$example" >&2
  expect $wanted bash -c "$example" < <(answers)
  afterwards "$example"
  count=$((count + 1))
done < <(sed -n '/^<!-- demo -->$/,/^<!-- end of demo -->$/d; s/^    \(meltlag .*\)/\1/p' "$MELTLAG_ROOT/README.md")
[[ $count -ge 20 ]] || fail "only $count examples were found"

# The slicer's hook, with the file as its last word.
hook=$(sed -n 's|^ *\(/path/to/meltlag .*\)|\1|p' "$MELTLAG_ROOT/README.md")
[[ -n $hook ]] || fail 'the README shows no hook'
expect 0 bash -c "$(sed "s|/path/to/meltlag|'$MELTLAG_BINARY'|; s|/path/to/auger.toml|'$PWD/auger.toml'|" <<<"$hook") part.gcode"
head -1 part.gcode | grep -q '^; adapted by meltlag' || fail 'the hook adapted nothing'
cmp part.gcode.as-sliced "$samples/cable-clip-arcs.gcode" || fail 'the original was not kept'
