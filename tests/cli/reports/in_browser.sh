# SPDX-License-Identifier: MIT
# Every page opens in a browser without an error, asks for nothing, and can be used: by mouse, by keys,
# on a phone, in the dark.
browser=$(command -v chromium || command -v chromium-browser) || skip 'chromium is not installed'
cp "$samples/seed-tray-foot.gcode" part.gcode
printed=$profiles/bench-auger-printed.toml
expect 0 meltlag adapt part.gcode --profile "$printed" --output adapted.gcode --report adapt.html
expect 0 meltlag predict part.gcode --profile "$printed" --report predict.html
expect 1 meltlag diff part.gcode adapted.gcode --profile "$printed" --report diff.html
braced=$profiles/bench-auger-braced.toml
expect 0 meltlag causes "$braced" --against "$printed" --file part.gcode --report causes.html
expect 0 meltlag builds "$printed" "$braced" --report builds.html
expect 0 meltlag adapt "$samples/numbered-absolute.gcode" --profile "$printed" --time-table --report trade.html

measured_sheets part.gcode
compare() { expect 0 meltlag compare part.gcode "$@" --profile "$printed"; }
compare rows.csv --report lines.html
compare times.csv --clock-offset 0 --report times.html
compare --mass 0.7g --took 1:50 --report checks.html


picture=${MELTLAG_BINARY%/*}/tests/reference/picture
if [[ -x $picture ]]; then
  write_profile auger.toml
  sed '/^\[lag\]/,/^flow_index/d' auger.toml >bare.toml
  expect 0 meltlag calibrate print TEST.gcode --rings --profile bare.toml --plain-start --nozzle-c 205
  "$picture" TEST.gcode scan.jpg --dpi 240 --run-on 3 --at-flow 5 --index 0.7 >truth.csv
  expect 0 meltlag calibrate scan TEST.gcode scan.jpg --output SHEET.csv --every 2
  expect 0 meltlag calibrate fit TEST.gcode SHEET.csv --profile bare.toml --report fit.html
fi

# opens PAGE WIDTH OPTION...: the page with the checks behind it. WIDTH 0: any.
opens() {
  local page=$1 width=$2 said
  shift 2
  sed -e "s/CHECK_LINE/303/g; s/CHECK_WIDTH/$width/g" "$MELTLAG_ROOT/tests/cli/reports/browser_checks.js" >checks.js
  # Without a screen there are no frames to wait for: a timer stands in for them.
  {
    sed -e '/^<\/body>/,$d' \
        -e 's|^</head>|<script>requestAnimationFrame = (f) => setTimeout(f, 16);</script>&|' "$page"
    echo '<script>'
    cat checks.js
    echo '</script></body></html>'
  } >page.html
  HOME=$PWD timeout 100 "$browser" --headless=new --no-sandbox --disable-gpu --hide-scrollbars \
    --disable-background-networking --user-data-dir="$PWD/browser" --virtual-time-budget=60000 "$@" \
    --dump-dom "file://$PWD/page.html" >dom.html 2>/dev/null || fail "no page: $page $*"
  said=$(grep -o -m 1 '<html[^>]*>' dom.html) || fail "no document: $page $*"
  [[ $said == *'data-ready="true"'* ]] || fail "not drawn: $page $*: $said"
  [[ $said == *'data-errors="0"'* ]] || fail "errors: $page $*: $said"
  [[ $said == *'data-checks="all-hold"'* ]] || fail "$page $*: $said"
}
if [[ -x ${MELTLAG_BINARY%/*}/tests/block_page ]]; then
  "${MELTLAG_BINARY%/*}/tests/block_page" >blocks.html
  opens blocks.html 0 --window-size=1300,900
fi
opens adapt.html 0 --window-size=1300,900
opens predict.html 0 --window-size=1300,900
opens diff.html 0 --window-size=1300,900 --blink-settings=preferredColorScheme=0
opens adapt.html 0 --window-size=390,844
opens causes.html 0 --window-size=1300,900
opens causes.html 0 --window-size=390,844 --blink-settings=preferredColorScheme=0
opens builds.html 0 --window-size=390,844
opens lines.html 0 --window-size=1300,900
opens lines.html 0 --window-size=390,844 --blink-settings=preferredColorScheme=0
opens times.html 0 --window-size=1300,900 --blink-settings=preferredColorScheme=0
opens times.html 0 --window-size=390,844
opens checks.html 0 --window-size=390,844
opens trade.html 0 --window-size=1300,900
opens trade.html 0 --window-size=390,844 --blink-settings=preferredColorScheme=0
if [[ -s fit.html ]]; then
  [[ $(grep -c 'data-chart=' fit.html) -ge 15 ]] || fail 'rings are missing on the page'
  opens fit.html 0 --window-size=1300,900 --blink-settings=preferredColorScheme=0
  opens fit.html 0 --window-size=390,844
fi
