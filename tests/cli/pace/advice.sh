# SPDX-License-Identifier: MIT
write_profile auger.toml
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 5.0/' auger.toml
cp "$samples/numbered-absolute.gcode" part.gcode
expect 0 meltlag inspect part.gcode --profile auger.toml --advise
shows 'All print speeds to'
shows 'shorter than your lag'
grep -q 'no need to slice again' "$MELTLAG_NOTES/results" && fail 'the last line contradicts the reasons'
shows 'fewer, longer beads, not with slower ones'
# What inspect calls too much flow stays too much in the advice.
sed 's/^max_flow_mm3_s = .*/max_flow_mm3_s = 2/' auger.toml >weak.toml
expect 0 meltlag inspect part.gcode --profile weak.toml --advise
shows 'print slower or thinner'
grep -q 'no need to slice again' "$MELTLAG_NOTES/results" && fail 'the advice contradicts the warning'
expect 0 meltlag inspect part.gcode --profile auger.toml --advise --json
shows '"better_sliced_again"'
shows '"slicer_settings"'
# The slicer's own settings come first; what cannot be set is said.
sed -i 's/^delivered_factor = .*/delivered_factor = 0.91/' auger.toml
expect 0 meltlag inspect part.gcode --profile auger.toml --advise
shows 'Flow setting: 109.9 % of what it is now'
shows 'Retract length'
wide=$(LC_ALL=C.UTF-8 grep -E '.{81,}' "$MELTLAG_NOTES/results" || true)
[[ -z $wide ]] || fail "too wide: $wide"
write_part wall.gcode
sed -i '/^G1 E/d' wall.gcode
expect 0 meltlag inspect wall.gcode --profile auger.toml --advise
shows 'It has no retracts'
shows 'Slice it again with retracts'
