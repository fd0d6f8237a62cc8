# SPDX-License-Identifier: MIT
# Names, titles, comments and notices that look like HTML or scripts are shown, never obeyed.
nasty='<img src=x onerror=alert(1)><script>boom()</script> & "quoted"'
name='<b>part & co'\''s.gcode'
write_profile auger.toml
{ printf 'title = '"'"'%s'"'"'\nnotes = "</pre><script>boom()</script>"\n' "$nasty"; sed 1d auger.toml; } >odd.toml
write_part plain.gcode
{ printf '; %s\nM117 %s\n<script>boom()</script>\n' "$nasty" "$nasty"; cat plain.gcode; printf 'M118 \377\376 bytes\n'; } >"$name"
expect 0 meltlag adapt "$name" --profile odd.toml --output adapted.gcode --report page.html --json
cp "$MELTLAG_NOTES/results" table.json
python3 "$MELTLAG_ROOT/tests/cli/reports/numbers.py" page.html table.json >/dev/null || fail 'it got into the page'
grep -qF '&lt;script&gt;boom()' page.html || fail 'the title is not shown'
if grep -qF '<script>boom' page.html; then fail 'a script got into the page'; fi
iconv -f UTF-8 -t UTF-8 page.html >/dev/null || fail 'the page is no UTF-8'
for page in causes builds; do
  expect 0 meltlag $page odd.toml --report $page.html --json
  cp "$MELTLAG_NOTES/results" table.json
  python3 "$MELTLAG_ROOT/tests/cli/reports/numbers.py" $page.html table.json >/dev/null || fail "$page: it got in"
  grep -qF '&lt;script&gt;boom()' $page.html || fail "$page: the title is not shown"
  if grep -qF '<script>boom' $page.html; then fail "$page: a script got into the page"; fi
done
sheet='<img src=x onerror=alert(1)>&.csv'
line=$(grep -n 'X50 Y10' "$name" | tail -1 | cut -d: -f1)
printf 'gcode_line;width_mm;note <script>boom()</script>\n%s;1,2;"%s"\n' "$line" "</script>${nasty//\"/\"\"}" >"$sheet"
expect 0 meltlag compare "$name" "$sheet" --profile odd.toml --report compare.html --json
cp "$MELTLAG_NOTES/results" table.json
python3 "$MELTLAG_ROOT/tests/cli/reports/numbers.py" compare.html table.json >/dev/null || fail 'compare: it got in'
grep -qF '&lt;img src=x onerror=alert(1)&gt;&amp;.csv' compare.html || fail 'compare: the sheet is not named'
if grep -qE '<script>boom|<img' compare.html; then fail 'compare: a script got into the page'; fi
