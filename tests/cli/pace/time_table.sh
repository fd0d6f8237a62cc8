# SPDX-License-Identifier: MIT
# The table of what more time buys: every row at least as good as the one before, nothing written.
write_profile auger.toml
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 5.0/' auger.toml
cp "$samples/numbered-absolute.gcode" part.gcode
guard
expect 0 meltlag adapt part.gcode --profile auger.toml --time-table
shows 'as sliced'
shows 'flow set right'
shows '+40 %'
wide=$(LC_ALL=C.UTF-8 grep -E '.{81,}' "$MELTLAG_NOTES/results" || true)
[[ -z $wide ]] || fail "too wide: $wide"
awk '$1 ~ /^[+]/ { for (i = 2; i < NF; ++i) if ($(i + 1) == "%" && i > 3) { print $i; break } }' \
  "$MELTLAG_NOTES/results" >shares
mv shares "$MELTLAG_NOTES/shares"
[[ $(wc -l <"$MELTLAG_NOTES/shares") -eq 6 ]] || fail 'not six rows'
sort -rn -c "$MELTLAG_NOTES/shares" || fail 'a row is worse than the one before'
expect 0 meltlag adapt part.gcode --profile auger.toml --time-table --json
shows '"granted_share": 0.15'
untouched
