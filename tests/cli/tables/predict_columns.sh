# SPDX-License-Identifier: MIT
# One row per line of the file; the columns are what others build on.
write_profile auger.toml
write_part part.gcode
expect 0 meltlag predict part.gcode --profile auger.toml --csv flow.csv
columns=line,t_s,dt_s,length_mm,commanded_mm3_s,predicted_mm3_s,wanted_mm3,got_mm3,run_on_mm3
[[ $(head -1 flow.csv) == "$columns"* ]] || fail "columns: $(head -1 flow.csv)"
[[ $(wc -l <flow.csv) -eq $(($(wc -l <part.gcode) + 1)) ]] || fail "$(wc -l <flow.csv) lines"
