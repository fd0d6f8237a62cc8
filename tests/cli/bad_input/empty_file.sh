# SPDX-License-Identifier: MIT
# What is no G-code is an error, and nothing is written: an empty file, a model, a profile.
write_profile auger.toml
: >part.gcode
cat >model.stl <<'STL'
solid clip
 facet normal 0 0 1
  outer loop
   vertex 1 2 3
   vertex 4 2 3
   vertex 4 5 3
  endloop
 endfacet
endsolid
STL
guard
refused 'is empty'
for file in model.stl auger.toml; do
  expect 1 meltlag adapt "$file" --profile auger.toml --output adapted.gcode
  says 'no G-code'
  says "$file"
done
expect 1 meltlag inspect model.stl
says 'no G-code'
expect 1 meltlag predict model.stl --profile auger.toml
says 'no G-code'
untouched
