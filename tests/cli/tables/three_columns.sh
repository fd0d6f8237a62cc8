# SPDX-License-Identifier: MIT
# Wherever a file is judged there are three columns, and what they share out adds up.
write_profile auger.toml
sed -i 's/^delivered_factor = .*/delivered_factor = 0.91/' auger.toml
cp "$samples/seed-tray-foot.gcode" part.gcode
narrow() {
  local wide
  wide=$(LC_ALL=C.UTF-8 grep -E '.{81,}' "$1") && fail "too wide: $wide"
  return 0
}
expect 0 adapt
for text in 'as sliced' 'flow set right' 'adapted' 'strings on travels' 'turned in vain' '109.9 %'; do
  says "$text"
done
narrow "$MELTLAG_NOTES/messages"
expect 0 meltlag predict part.gcode --profile auger.toml
shows 'flow set right'
expect 0 meltlag predict adapted.gcode --original part.gcode --profile auger.toml
shows 'flow set right'
shows 'points taken off misplaced'
narrow "$MELTLAG_NOTES/results"
expect 1 meltlag diff part.gcode adapted.gcode --profile auger.toml
shows 'flow set right'
# Its flow is right already: there is nothing to set.
expect 0 meltlag predict adapted.gcode --profile auger.toml
if grep -q 'flow set right' "$MELTLAG_NOTES/results"; then fail 'an adapted file has its flow set right twice'; fi

# The same figures by every way, and shares whose sum is what is misplaced as sliced.
keep() { cp "$MELTLAG_NOTES/results" "$1"; }
expect 0 adapt --force --json
keep adapt.json
expect 0 meltlag predict adapted.gcode --original part.gcode --profile auger.toml --json
keep predict.json
expect 1 meltlag diff part.gcode adapted.gcode --profile auger.toml --json
keep diff.json
python3 - adapt.json predict.json diff.json <<'CHECK' || fail 'the tables differ'
import json
import sys

tables = [json.load(open(name, encoding="utf-8")) for name in sys.argv[1:]]
for table in tables:
    for side in ("as_sliced", "flow_set_right", "adapted"):
        assert table[side] == tables[0][side], side
    shares = table["misplaced_shares"]
    assert abs(sum(shares.values()) - table["as_sliced"]["misplaced_share"]) < 1e-9, shares
    assert shares["left_share"] == table["adapted"]["misplaced_share"]
assert all("time_share" not in table["misplaced_shares"] for table in tables)
CHECK
