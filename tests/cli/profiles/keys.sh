# SPDX-License-Identifier: MIT
# profiles/README.md is what the program writes today, names every key that loads, and the values that it
# promises for keys left out are those that hold.
expect 0 meltlag profile keys --markdown
diff "$MELTLAG_NOTES/results" "$MELTLAG_ROOT/profiles/README.md" >&2 ||
  fail 'profiles/README.md is old: meltlag profile keys --markdown >profiles/README.md'
cp "$MELTLAG_NOTES/results" page
expect 0 meltlag profile keys
for key in $(grep -hoE '^[a-z0-9_]+ =' "$profiles"/*.toml "$profiles"/materials/*.toml |
             sed 's/ =//; s/_sd$//; s/_low$//; s/_high$//' | sort -u); do
  grep -qE "^\| \`$key\`" page || fail "the page does not explain $key"
  shows "$key = "
done

# A profile with every such value written out does the same as one without.
write_part part.gcode
write_profile auger.toml
sed -i '/slicer_diameter_mm\|delivered_factor\|corner_rule/d' auger.toml
expect 0 adapt --quiet
mv adapted.gcode plain.gcode
count=0
for section in feed lag machine limits; do
  rows=$(awk -v title="### \`[$section]\`" '$0 == title { on = 1; next } /^###/ { on = 0 }
           on && /^\| `/' page | awk -F' *\\| *' '$4 ~ /^("|[0-9]|true|false)/ {
           gsub(/[`±]| /, "", $2); print $2 " = " $4 }')
  count=$((count + $(wc -l <<<"$rows")))
  awk -v title="[$section]" -v rows="$rows" '{ print } $0 == title { print rows }' auger.toml >next
  mv next auger.toml
done
[[ $count -ge 12 ]] || fail "only $count values were tried"
expect 0 adapt --quiet
diff plain.gcode adapted.gcode >&2 || fail 'a value left out is not what the page says'
