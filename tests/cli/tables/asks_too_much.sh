# SPDX-License-Identifier: MIT
# A file whose beads ask for more than the screw feeds is told so first, with a speed that it can feed.
write_profile auger.toml
sed -i 's/^max_flow_mm3_s = .*/max_flow_mm3_s = 3/' auger.toml
write_part part.gcode
first='^Asks for more than the screw feeds from line [0-9]+ on: print at most [0-9.]+ mm/s[.]$'
expect 0 meltlag predict part.gcode --profile auger.toml
head -1 "$MELTLAG_NOTES/results" | grep -qE "$first" || fail 'predict does not say it first'
percent=$(tr '\n' ' ' <"$MELTLAG_NOTES/results" | grep -oE 'scale all print speeds to +[0-9]+ %' | grep -oE '[0-9]+')
expect 0 adapt
head -1 "$MELTLAG_NOTES/messages" | grep -qE "$first" || fail 'adapt does not say it first'
expect 0 meltlag predict part.gcode --profile auger.toml --json
shows '"asks_for_too_much"'
# With the print speeds that it names nothing is turned in vain.
awk -v percent="$percent" '/^G1 X.* F1500/ { sub(/F1500/, "F" 15 * percent) } { print }' part.gcode >slower.gcode
expect 0 meltlag predict slower.gcode --profile auger.toml
if grep -q 'Asks for more' "$MELTLAG_NOTES/results"; then fail 'still too fast'; fi
