# SPDX-License-Identifier: MIT
# A starter with the printer's own limits; nothing is replaced.
expect 0 meltlag profile new auger.toml --settings "$samples/printer-settings.txt"
grep -q '^acceleration_mm_s2 = 800' auger.toml || fail 'the acceleration is not the report'"'"'s'
guard
expect 1 meltlag profile new auger.toml
says 'auger.toml'
says 'already there'
untouched
expect 1 meltlag profile new other.toml --settings missing.txt
says 'missing.txt'
untouched
