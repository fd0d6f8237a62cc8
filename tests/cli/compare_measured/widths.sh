# SPDX-License-Identifier: MIT
# Measured widths against predicted ones: text, CSV and JSON say the same; text of others stays text.
write_profile auger.toml
write_part part.gcode
cat >sheet.csv <<'CSV'
gcode_line;at_mm;width_mm;note
10;20;3,0;"<b>odd</b>"
10;30;2,9;
11;10;0,31 mm;
15;20;1,2;
15;35;0,9;
CSV
compare() { meltlag compare part.gcode sheet.csv --profile auger.toml "$@"; }
expect 0 compare --csv joined.csv
shows 'What it says'
shows 'explained'
shows 'decimal commas'
[[ -z $(awk 'length($0) > 90' "$MELTLAG_NOTES/results") ]] || fail 'lines are too long'
expect 0 compare --json
python3 - "$MELTLAG_NOTES/results" joined.csv <<'PYTHON'
import csv, json, sys
page = json.load(open(sys.argv[1]))["comparison"]
rows = list(csv.DictReader(open(sys.argv[2])))
assert len(rows) == len(page["rows"]) == 5
for text, row in zip(rows, page["rows"]):
    for key in ("measured", "predicted", "without_lag", "asked", "off", "expected_sd"):
        assert abs(float(text[key]) - row[key]) < 1e-4 * max(1, abs(row[key])), (key, text, row)
    assert text["as_expected"] == ("yes" if row["as_expected"] else "no")
kind = page["kinds"][0]
offs = [row["measured"] - row["predicted"] for row in page["rows"]]
assert abs(kind["bias"] - sum(offs) / 5) < 1e-9
assert abs(kind["rms"] - (sum(off * off for off in offs) / 5) ** 0.5) < 1e-9
assert page["curve"] and page["findings"]
PYTHON

# What is asked for comes from the original.
expect 0 meltlag adapt part.gcode --profile auger.toml --output adapted.gcode
line=$(awk '/X50 Y10/ { print NR }' adapted.gcode | tail -1)
printf 'gcode_line,width_mm\n%s,1.2\n' "$line" >one.csv
expect 0 meltlag compare adapted.gcode one.csv --profile auger.toml --original part.gcode
shows 'Fewer than five rows'
expect 1 meltlag compare adapted.gcode one.csv --profile auger.toml \
  --original "$samples/seed-tray-foot.gcode"
says '--original'

# Faults name their place.
sed 's/^11;/12;/' sheet.csv >moved.csv
sed -i 's/^10;20/2;20/' moved.csv
expect 1 meltlag compare part.gcode moved.csv --profile auger.toml
says 'moved.csv:2:3'
says 'moves nothing'
expect 1 meltlag compare part.gcode missing.csv --profile auger.toml
says 'missing.csv'
printf 'gcode_line,to_line,mass_g\n10,11,0.1\n' >mass.csv
expect 1 meltlag compare part.gcode mass.csv --profile auger.toml
says '--density'
expect 0 meltlag compare part.gcode mass.csv --profile auger.toml --density 1.24
printf 't_s,force_n\n1,2\n' >force.csv
expect 1 meltlag compare part.gcode force.csv --profile auger.toml
says '[barrel]'
expect 2 meltlag compare part.gcode --profile auger.toml
expect 2 meltlag compare part.gcode sheet.csv
expect 1 meltlag compare - sheet.csv --profile auger.toml
says 'standard input'
