# SPDX-License-Identifier: MIT
# A filter: the file from standard input, the adapted one to standard output, the same bytes.
mkdir spool
export TMPDIR=$PWD/spool
write_profile auger.toml
write_part part.gcode
expect 0 meltlag adapt part.gcode --profile auger.toml --output from_file.gcode
guard
expect 0 meltlag adapt - --profile auger.toml --output - <part.gcode
cmp "$MELTLAG_NOTES/results" from_file.gcode || fail 'the filter gives other bytes'
expect 0 meltlag inspect - <part.gcode
shows 'mm³'
expect 1 meltlag adapt - --profile auger.toml --in-place <part.gcode
untouched
[[ -z $(ls -A spool) ]] || fail 'a temporary file is left'
