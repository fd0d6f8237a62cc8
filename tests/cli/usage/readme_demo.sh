# SPDX-License-Identifier: MIT
# What the README shows of the demo is what the demo says today.
export MELTLAG=$MELTLAG_BINARY MELTLAG_DEMO=$PWD/demo
"$MELTLAG_ROOT/samples/demo" --excerpt | sed "s|$PWD/demo|build/demo|g" >excerpt
[[ $(wc -l <excerpt) -eq 10 ]] || fail 'not the lines that the README has room for'
sed -n '/^<!-- demo -->$/,/^<!-- end of demo -->$/p' "$MELTLAG_ROOT/README.md" | sed '1d;$d' >shown
diff shown excerpt >&2 || fail 'the README shows an old demo: samples/demo --refresh'
for file in adapted.gcode report.html moves.txt summary.txt; do
  [[ -s demo/$file ]] || fail "the demo leaves no $file"
done
meltlag diff "$samples/seed-tray-foot.gcode" demo/adapted.gcode >/dev/null && fail 'the demo adapts nothing'
expect 2 "$MELTLAG_ROOT/samples/demo" --nonsense
