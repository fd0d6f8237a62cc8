# SPDX-License-Identifier: MIT
# A locale with a decimal comma changes nothing.
write_profile auger.toml
write_part part.gcode
expect 0 adapt
mv adapted.gcode plain.gcode
# One of our own where the system has none, else this would show nothing.
if command -v localedef >/dev/null && [[ -e /usr/share/i18n/locales/de_DE ]]; then
  localedef -i de_DE -f UTF-8 "$MELTLAG_NOTES/de_DE.UTF-8" || true
  export LOCPATH=$MELTLAG_NOTES
fi
for locale in $(locale -a | grep -i '^\(de\|fr\)_' | head -1) de_DE.UTF-8; do
  LC_ALL=$locale expect 0 adapt
  cmp plain.gcode adapted.gcode || fail "$locale changes the output"
  rm adapted.gcode
done
