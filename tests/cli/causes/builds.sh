# SPDX-License-Identifier: MIT
# One row a build, what changed, and the same as JSON.
expect 0 meltlag builds "$profiles/bench-auger-printed.toml" "$profiles/bench-auger-braced.toml"
shows '2026-04-18'
shows '1.60 ± 0.15'
shows 'flat steel'
expect 0 meltlag builds "$profiles/bench-auger-printed.toml" "$profiles/bench-auger-braced.toml" \
  --at-flow 2 --json
python3 - "$MELTLAG_NOTES/results" <<'PYTHON'
import json, sys
page = json.load(open(sys.argv[1]))
old, new = page["builds"]
assert len(old["lags"]) == 3 and [l["flow_mm3_s"] for l in old["lags"]] == [3, 7.5, 15]
assert old["prints"]["run_on_mm3"]["prints"] == 3
assert new["run_on_mm3"] < old["run_on_mm3"]
PYTHON
write_profile auger.toml
sed -i '/^\[lag\]/,/^flow_index/d' auger.toml
expect 1 meltlag builds auger.toml
says '[lag]'
expect 2 meltlag builds
