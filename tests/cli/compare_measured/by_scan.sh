# SPDX-License-Identifier: MIT
# A zigzag is printed on a machine that is known here, its picture is held against the prediction
# without a number being typed: with the machine's own lag it agrees, without a lag it does not.
picture=${MELTLAG_BINARY%/*}/tests/reference/picture
[[ -x $picture ]] || skip 'the reference is not built'
write_profile auger.toml
sed -i 's/^run_on_mm3 = .*/run_on_mm3 = 4.0/; s/^flow_index = .*/flow_index = 0.7/' auger.toml
# Lines 8 mm apart, each longer than the one before, slow and fast in turns; not alike when turned.
zigzag() {
  printf 'G21\nG90\nM83\nM104 S205\nG1 X60 Y60 Z0.3 F3000\nG1 E2 F300\n'
  awk -v lines="$1" 'BEGIN {
    for (k = 0; k < lines; ++k) {
      right = 100 + 5 * k; y = 60 + 8 * k; slow = 60 + (right - 60) / 3; fast = 60 + 2 * (right - 60) / 3
      if (k % 2) { a = fast; b = slow; end = 60 } else { a = slow; b = fast; end = right }
      start = k % 2 ? right : 60
      e = 0.12
      printf "G1 X%.3f Y%.3f E%.4f F600\n", a, y, e * (a > start ? a - start : start - a)
      printf "G1 X%.3f E%.4f F2400\n", b, e * (b > a ? b - a : a - b)
      printf "G1 X%.3f E%.4f F900\n", end, e * (end > b ? end - b : b - end)
      next_end = k % 2 ? 60 : right + 5
      printf "G1 X%.3f Y%.3f E%.4f F900\n", k % 2 ? 60 : right + 5, y + 8, e * 8
    } }'
}
zigzag 10 >part.gcode
"$picture" part.gcode scan.jpg --dpi 300 --run-on 4 --at-flow 5 --index 0.7 --piece-turn 137 \
  --piece-x 3 --piece-y -2 >truth.csv
guard
expect 0 meltlag compare part.gcode --scan scan.jpg --profile auger.toml --json
untouched
agree=$MELTLAG_NOTES/agree.json
cp "$MELTLAG_NOTES/results" "$agree"
expect 0 meltlag compare part.gcode --scan scan.jpg --profile auger.toml
grep -qx 'The picture' "$MELTLAG_NOTES/results" || fail 'what the picture gave has no heading of its own'
sed 's/^run_on_mm3 = .*/run_on_mm3 = 0.05/' auger.toml >stiff.toml
expect 0 meltlag compare part.gcode --scan scan.jpg --profile stiff.toml --json
python3 - "$agree" "$MELTLAG_NOTES/results" <<'PYTHON' || fail 'the picture does not tell the machines apart'
import json, sys
right, wrong = (json.load(open(name))["comparison"] for name in sys.argv[1:])
def rms(c):
    off = [row["measured"] - row["predicted"] for row in c["rows"]]
    return (sum(o * o for o in off) / len(off)) ** 0.5, len(off)
a, rows = rms(right)
b, _ = rms(wrong)
print(a, b, rows, file=sys.stderr)
assert rows > 250, rows
assert a < 0.04, a
assert b > 3 * a, (a, b)
PYTHON
expect 0 meltlag compare part.gcode --scan scan.jpg --profile auger.toml --csv rows.csv --report page.html
shows 'turned by 137.0'
[[ $(wc -l <rows.csv) -gt 250 ]] || fail 'hardly any row was written'
grep -q 'scan.jpg' page.html || fail 'the page does not name the picture'

# Each of these is refused with what is wrong, and nothing is written.
guard
zigzag 6 >other.gcode
expect 1 meltlag compare other.gcode --scan scan.jpg --profile auger.toml --csv none.csv
says 'another piece'
expect 1 meltlag compare part.gcode --scan part.gcode --profile auger.toml --csv none.csv
says 'no PNG, JPEG or TIFF'
sed 's/ Y68.000/ Y68.000 Z0.6/' part.gcode >layers.gcode
expect 1 meltlag compare layers.gcode --scan scan.jpg --profile auger.toml --csv none.csv
says 'more than one layer'
rm other.gcode layers.gcode
expect 2 meltlag compare part.gcode rows.csv --scan scan.jpg --profile auger.toml
says 'not both'
untouched
