# SPDX-License-Identifier: MIT
# All that is no motion keeps its bytes and its order: CRLF, odd bytes, no line break at the end.
write_profile auger.toml
{
  printf '\xef\xbb\xbf; byte-order mark in front\r\nG21\r\nG90\r\nM83\r\nM109 S205\r\n'
  printf '(a remark) \r\n  M106 S80 ; indented\r\n; \xff\xfe \xc3\xa4\r\n/G4 P10\r\n\r\n'
  printf 'G0 X10 Y10 F4800\r\ng1x50y10e3.2f1500 ; kept\r\nG1 X50 Y30 E1.6\r\nM117 Done ; bye'
} >part.gcode
expect 0 adapt
kept() { LC_ALL=C sed '1s/^\xef\xbb\xbf//' "$1" | LC_ALL=C grep -avE '^[^;(]*[gG][01]([^0-9]|$)|adapted by meltlag'; }
kept part.gcode >before
kept adapted.gcode >after
cmp before after || fail 'a line was changed'
LC_ALL=C grep -aq '; kept' adapted.gcode || fail 'the comment of a move was lost'
[[ $(head -c 3 adapted.gcode | od -An -tx1) == ' ef bb bf' ]] || fail 'the byte-order mark moved'
[[ $(tail -c 3 adapted.gcode) == bye ]] || fail 'something stands after the end'
