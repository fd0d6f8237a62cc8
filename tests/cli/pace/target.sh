# SPDX-License-Identifier: MIT
# A target: the least time that reaches it, or an error that says what can be reached and why.
write_profile auger.toml
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 5.0/' auger.toml
cp "$samples/numbered-absolute.gcode" part.gcode
expect 0 meltlag adapt part.gcode --profile auger.toml --output a.gcode --target 3%
grep -qE -- '→ (3\.0|2\.9) %' "$MELTLAG_NOTES/messages" || fail 'the target is missed or overdone'
expect 0 meltlag adapt part.gcode --profile auger.toml --output b.gcode --target 90%
says 'No time is added'
# Where it cannot be reached: what can, and nothing is written; what is named is reached.
guard
expect 1 meltlag adapt part.gcode --profile auger.toml --output c.gcode --target 0.01%
says 'cannot be reached'
untouched
best=$(sed -n 's/.*Ask for --target \([0-9.]*\) %.*/\1/p' "$MELTLAG_NOTES/messages")
[[ -n $best ]] || fail 'it does not say what can be reached'
expect 0 meltlag adapt part.gcode --profile auger.toml --output c.gcode --target "$best%"
guard
expect 1 meltlag adapt part.gcode --profile auger.toml --output d.gcode --target 1% --extra-time 2%
says 'cannot be reached'
untouched
