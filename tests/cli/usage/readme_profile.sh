# SPDX-License-Identifier: MIT
# The profile printed in the README is a whole one, and its table of keys leaves out none.
write_part part.gcode
sed -n '/^```toml$/,/^```$/p' "$MELTLAG_ROOT/README.md" | sed '/^```/d' >auger.toml
[[ -s auger.toml ]] || fail 'the README shows no profile'
expect 0 adapt
for key in $(grep -oE '^[a-z0-9_]+ =' "$profiles/bench-auger-printed.toml" | sed 's/ =//; /_sd$/d'); do
  grep -q "\`$key\`" "$MELTLAG_ROOT/README.md" || fail "the README does not explain $key"
done
