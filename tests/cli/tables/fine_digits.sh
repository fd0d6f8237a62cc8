# SPDX-License-Identifier: MIT
# A syringe's beads turn E by 0.0001 mm: as many decimals as they ask for, and a word about it.
write_profile auger.toml
sed 's/^slicer_diameter_mm = .*/slicer_diameter_mm = 52.5/' auger.toml >syringe.toml
write_part part.gcode
for mode in M83 M82; do
  awk -v mode=$mode 'BEGIN {
    print mode "\nM104 S205\nG1 F1500"
    for (i = 1; i <= 400; ++i)
      printf "G1 X%d E%.4f F%d\n", i, mode == "M83" ? 0.0001 : 0.0001 * i, 900 + 600 * (int(i / 20) % 3)
  }' >beads.gcode
  expect 0 meltlag adapt beads.gcode --profile syringe.toml --output out.gcode --force
  says '7 decimals'
  says '100.0 % of the beads'
  grep -qE 'E-?[0-9]+\.[0-9]{7}( |$)' out.gcode || fail "$mode: no seven decimals"
  grep -qE 'E-?[0-9]+\.[0-9]{8}' out.gcode && fail "$mode: more decimals than asked for"
  expect 0 meltlag adapt beads.gcode --profile syringe.toml --output out.gcode --force --json
  shows '"decimals": 7'
done
# Beads of the usual size: five decimals, and nothing to say.
expect 0 meltlag adapt part.gcode --profile auger.toml --output out.gcode --force --json
shows '"decimals": 5'
expect 0 meltlag adapt part.gcode --profile auger.toml --output out.gcode --force
grep -q 'decimals' "$MELTLAG_NOTES/messages" && fail 'a word about decimals for nothing'
true
