# SPDX-License-Identifier: MIT
# Test piece, a hidden machine's print measured, fit, adapt: as good as with the true profile, but for
# what 60 widths and the heights cannot tell.
folder=${MELTLAG_BINARY%/*}/tests/reference
[[ -x $folder/measure && -x $folder/judge ]] || skip 'the reference is not built'
write_profile true.toml
sed -i 's/^run_on_mm3.*/run_on_mm3 = 3.0/; s/^flow_index.*/flow_index = 0.6/' true.toml
sed '/^\[lag\]/,/^flow_index/d' true.toml >bare.toml
plant=(--run-on 3 --at-flow 5 --index 0.6 --factor 1)
expect 0 meltlag calibrate print --profile bare.toml --layers 6 --readings 60 --plain-start \
  --nozzle-c 205
"$folder/measure" TEST.gcode SHEET.csv "${plant[@]}" --height 0.3 --seed 3 >filled.csv
expect 0 meltlag calibrate fit TEST.gcode filled.csv --profile bare.toml --output fitted.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
for profile in true fitted; do
  expect 0 meltlag adapt part.gcode --profile $profile.toml --output $profile.gcode
done
misplaced() { "$folder/judge" part.gcode "$1" "${plant[@]}" | awk '/^misplaced_percent/ { print $2 }'; }
best=$(misplaced true.gcode)
got=$(misplaced fitted.gcode)
awk "BEGIN { exit !($got < $best + 1.5) }" || fail "misplaced $got %, $best % with the true profile"
