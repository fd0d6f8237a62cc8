# SPDX-License-Identifier: MIT
# From rings to a profile without typing a width: piece and page, a picture of what a hidden machine
# printed, the sheet read off it, the fit.
picture=${MELTLAG_BINARY%/*}/tests/reference/picture
[[ -x $picture ]] || skip 'the reference is not built'
write_profile auger.toml
sed '/^\[lag\]/,/^flow_index/d' auger.toml >bare.toml
expect 0 meltlag calibrate print TEST.gcode --rings --map PAGE.svg --background blue --paper letter \
  --profile bare.toml --plain-start --nozzle-c 205
shows 'heat-resistant film'
shows 'calibrate scan TEST.gcode PICTURE'
grep -q 'width="215.9mm" height="279.4mm"' PAGE.svg || fail 'the page is no letter'
[[ $(grep -c '<circle' PAGE.svg) -ge 33 ]] || fail 'marks are missing on the page'
for word in unattended fumes scorch '60 C'; do
  sed -n '1,14p' TEST.gcode | grep -qF "$word" || fail "no caution about '$word'"
done
awk '/^; time: / { exit !($3 <= 8) }' TEST.gcode || fail 'it prints for more than 8 minutes'

"$picture" TEST.gcode scan.jpg --dpi 300 --run-on 3 --at-flow 5 --index 0.7 --piece-turn 50 \
  --page-turn 180 >truth.csv
expect 0 meltlag calibrate scan TEST.gcode scan.jpg --output SHEET.csv --overlay FOUND.png --every 2
shows '22 marks'
shows 'FOUND.png'
[[ $(head -c 4 FOUND.png | tail -c 3) == PNG ]] || fail 'the overlay is no PNG'
[[ $(grep -c ',width,' SHEET.csv) -gt 2000 ]] || fail 'hardly any width was read'
expect 0 meltlag calibrate fit TEST.gcode SHEET.csv --profile bare.toml --output fitted.toml
shows 'widths off a picture'
run_on=$(awk '/^run_on_mm3 =/ { print $3 }' fitted.toml) at=$(awk '/^at_flow_mm3_s =/ { print $3 }' fitted.toml)
index=$(awk '/^flow_index =/ { print $3 }' fitted.toml)
awk "BEGIN { s = $run_on * (5 / $at) ^ $index / 3; exit !(s > 0.92 && s < 1.08) }" ||
  fail "run-on $run_on mm3 at $at mm3/s instead of 3 at 5"
awk "BEGIN { exit !($index > 0.64 && $index < 0.76) }" || fail "flow index $index instead of 0.7"

# The page as a browser draws it, words and all, is found; there is no piece on it.
if command -v chromium >/dev/null; then
  chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --force-device-scale-factor=3.125 \
    --screenshot=page.png --window-size=816,1056 PAGE.svg >/dev/null 2>&1 || true
  [[ -s page.png ]] || fail 'the page cannot be drawn'
  expect 1 meltlag calibrate scan TEST.gcode page.png --output none.csv
  says "nothing stands out from the page's field"
fi

# What is there stays there; a picture that cannot be read leaves nothing behind.
expect 1 meltlag calibrate scan TEST.gcode scan.jpg --output SHEET.csv
says 'SHEET.csv'
head -c 300000 scan.jpg >half.jpg
expect 1 meltlag calibrate scan TEST.gcode half.jpg --output none.csv --overlay none.png
says 'half.jpg: the picture is cut off or damaged'
[[ ! -e none.csv && ! -e none.png ]] || fail 'something was written'
expect 2 meltlag calibrate print T.gcode S.csv --rings --profile bare.toml --plain-start --nozzle-c 205
