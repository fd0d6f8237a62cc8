# SPDX-License-Identifier: MIT
# Time that was spent has a share of its own, and the shares still add up.
write_profile auger.toml
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 5.0/; s/^delivered_factor = .*/delivered_factor = 0.91/' auger.toml
cp "$samples/numbered-absolute.gcode" part.gcode
expect 0 adapt --json --extra-time 10%
cp "$MELTLAG_NOTES/results" table.json
python3 - <<'CHECK' || fail 'the shares are not those of the table'
import json

table = json.load(open("table.json", encoding="utf-8"))
shares = table["misplaced_shares"]
assert abs(sum(shares.values()) - table["as_sliced"]["misplaced_share"]) < 1e-9, shares
if table["outcome"] == "adapted" and table["pace"]["extra_share"] > 0:
    assert shares["time_share"] > 0, shares
CHECK
