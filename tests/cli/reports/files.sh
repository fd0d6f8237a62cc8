# SPDX-License-Identifier: MIT
# A report replaces an older one, as a table does, but no file that the command reads or writes.
write_profile auger.toml
write_part part.gcode
echo 'an older one' >page.html
expect 0 meltlag predict part.gcode --profile auger.toml --report page.html
grep -q '<h1>' page.html || fail 'the older report is still there'
guard
expect 1 meltlag predict part.gcode --profile auger.toml --report part.gcode
says 'would be overwritten by its own report'
expect 1 meltlag predict part.gcode --profile auger.toml --report ./auger.toml
untouched
expect 1 adapt --report ./adapted.gcode
untouched
expect 1 meltlag predict part.gcode --profile auger.toml --report no-such-folder/page.html
untouched
expect 2 meltlag diff part.gcode part.gcode --report page.html
says '--report needs --profile'
untouched
cp auger.toml old.toml
guard
expect 1 meltlag causes auger.toml --report ./auger.toml
says 'would be overwritten by its own report'
expect 1 meltlag causes auger.toml --against old.toml --report old.toml
expect 1 meltlag causes auger.toml --file part.gcode --report part.gcode
expect 1 meltlag builds old.toml auger.toml --report auger.toml
says 'would be overwritten by its own report'
untouched
printf 'gcode_line,width_mm\n10,3.1\n' >sheet.csv
guard
for other in part.gcode sheet.csv auger.toml; do
  expect 1 meltlag compare part.gcode sheet.csv --profile auger.toml --report ./$other
  says 'would be overwritten by its own report'
done
expect 1 meltlag compare part.gcode sheet.csv --profile auger.toml --csv rows.csv --report rows.csv
untouched
# Nothing is written where the command fails.
echo 'G1 X10 Yoops' >bad.gcode
guard
expect 1 meltlag predict bad.gcode --profile auger.toml --report new.html
untouched
expect 1 meltlag causes auger.toml --against missing.toml --report new.html
expect 1 meltlag builds auger.toml missing.toml --report new.html
untouched
expect 1 meltlag compare bad.gcode sheet.csv --profile auger.toml --report new.html
untouched
