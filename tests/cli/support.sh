# SPDX-License-Identifier: MIT
# Helpers of the command tests. A helper that finds a fault says so on stderr and ends the test.

samples=$MELTLAG_ROOT/samples
profiles=$MELTLAG_ROOT/profiles

fail() {
  echo "FAULT: $*" >&2
  if [[ -e $MELTLAG_NOTES/messages ]]; then sed 's/^/said: /' "$MELTLAG_NOTES/messages" >&2; fi
  exit 99
}

skip() {
  echo "skipped: $*" >&2
  exit 77
}

# expect STATUS COMMAND...: runs it, keeps its stdout and stderr for the helpers below.
expect() {
  local wanted=$1 status=0
  shift
  "$@" >"$MELTLAG_NOTES/results" 2>"$MELTLAG_NOTES/messages" || status=$?
  [[ $status -eq $wanted ]] || fail "'$*' ended with status $status, expected $wanted"
}

# says TEXT: the last command wrote TEXT (in any case) to stderr. shows TEXT: the same for stdout.
says() { grep -qiF -- "$1" "$MELTLAG_NOTES/messages" || fail "nothing said about '$1'"; }
shows() { grep -qF -- "$1" "$MELTLAG_NOTES/results" || fail "stdout does not show '$1'"; }

# guard: remembers the files of the scratch folder as they are now.
# untouched: nothing in the scratch folder has changed, come or gone since.
snapshot() { find . -type f -exec sha256sum {} + | LC_ALL=C sort -k 2; }
guard() { snapshot >"$MELTLAG_NOTES/snapshot"; }
untouched() {
  snapshot | diff "$MELTLAG_NOTES/snapshot" - >&2 || fail "the files are no longer as they were"
}

# write_profile NAME: a whole profile with a measured lag.
write_profile() {
  cat >"$1" <<'PROFILE'
title = "Bench auger of the tests"
[feed]
slicer_diameter_mm = 1.75
delivered_factor = 1.0
[lag]
run_on_mm3 = 1.5
at_flow_mm3_s = 5.0
flow_index = 1.0
[machine]
acceleration_mm_s2 = 800
corner_rule = "jump"
corner_jump_mm_s = { x = 10, y = 10, z = 0.4, e = 5 }
max_speed_mm_s = { x = 300, y = 300, z = 20, e = 60 }
max_acceleration_mm_s2 = { x = 9000, y = 9000, z = 500, e = 5000 }
[limits]
max_flow_mm3_s = 15
PROFILE
}

# write_part NAME: one wall of a cable clip, two stops in it, relative E.
write_part() {
  cat >"$1" <<'PART'
; cable clip, one wall
G21
G90
M83
M104 S205
G28
M109 S205
G1 Z0.3 F600
G0 X10 Y10 F4800
G1 X50 Y10 E3.2 F1500
G1 X50 Y30 E1.6
G1 E-1 F1800
G0 X10 Y12 F4800
G1 E1 F1800
G1 X50 Y12 E3.2 F1500
G1 X50 Y32 E1.6
M104 S0
PART
}

# measured_sheets FILE: rows.csv holds widths and masses of lines of FILE, times.csv flows and
# forces by time; all invented, some of them far off.
measured_sheets() {
  {
    echo 'gcode_line,at_mm,width_mm,to_line,mass_g'
    awk '/^G1 X.* E[1-9]/ && n < 60 {
      printf "%d,%d,%.3f,,\n", NR, 2 + 4 * (n % 3), (n > 20 && n < 26 ? 1.1 : 0.7 + 0.02 * (n % 6))
      if (n % 10 == 0) printf "%d,,,%d,%.3f\n", NR, NR + 3, 0.02 + 0.01 * (n % 4)
      ++n }' "$1"
  } >rows.csv
  awk 'BEGIN {
    print "t_s,flow_mm3_s,force_n"
    for (k = 1; k <= 400; ++k) {
      printf "%.2f,%.3f,\n", k / 4, (k > 90 && k < 99 ? 9 : 5 + 2 * sin(k / 7))
      printf "%.2f,,%.2f\n", k / 4 + 0.1, 60 + 20 * sin(k / 7)
    } }' >times.csv
}

# hopper FILE FACTOR LONG STORE: drives the cups of FILE with a screw that brings FACTOR of what is
# asked, LONG mm³/s at most for long, and STORE mm³ beyond it that fill again while less is asked.
# Prints "cup N MM3" or "burst-cup N MM3" for each, filament 1.75 mm; ramps are passed over.
hopper() {
  awk -v f="$2" -v q="$3" -v b="$4" '
    function turn(x, t,   above, lasts) {
      if (x <= q) { B += (q - x) * t; if (B > b) B = b; return x * t }
      above = x - q; lasts = B / above < t ? B / above : t
      B -= above * lasts
      return x * lasts + q * (t - lasts)
    }
    BEGIN { B = b; area = atan2(0, -1) / 4 * 1.75 * 1.75 }
    /^M117 Put / { kind = $3 == "burst" ? "burst-cup" : "cup"; n = $(NF - 1); held = 0; under = 1 }
    /^M117 .* out, waste in$/ { if (under) print kind, n, held; under = 0 }
    /^M0/ { B = b }
    /^G4 P/ { turn(0, substr($2, 2) / 1000) }
    /^G1 E/ { e = substr($2, 2); t = e / (substr($3, 2) / 60)
              if (e > 0) { v = turn(f * e * area / t, t); if (under) held += v } }' "$1"
}

# weigh_cups KIND DENSITY SCATTER SHEET: SHEET with the masses of the hopper (stdin) in mass_g, which
# scatter by about SCATTER.
weigh_cups() {
  awk -v kind="$1" -v density="$2" -v scatter="$3" '
    FNR == NR { if ($1 == kind) volume[$2] = $3; next }
    FNR == 1 { FS = ","; OFS = ","; $0 = $0; for (i = 1; i <= NF; ++i) if ($i == "mass_g") at = i
               print; next }
    { if (volume[$1]) $at = sprintf("%.3f", volume[$1] * density / 1000 * \
                                            (1 + 1.4 * scatter * sin(++k * k)))
      print }' - "$4"
}

# adapt: the usual call. refused TEXT: it ends with status 1, says TEXT and leaves all files alone.
adapt() { meltlag adapt part.gcode --profile auger.toml --output adapted.gcode "$@"; }
refused() {
  guard
  expect 1 adapt
  says "$1"
  untouched
}
