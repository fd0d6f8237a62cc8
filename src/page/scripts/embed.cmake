# SPDX-License-Identifier: MIT
# Puts text files into a C++ source: cmake -DOUTPUT=… -D<name>=FILE[|FILE…] … -P embed.cmake
# Each name becomes a std::string_view in meltlag::page::embedded. Links to source maps
# are left out: a page must not ask for other files.
set(source "// SPDX-License-Identifier: MIT\n// Made by the build.\n#include \"embedded.hpp\"\n\n")
string(APPEND source "namespace meltlag::page::embedded {\nnamespace {\n")
set(views "")
foreach(name chart_script chart_style chart_licence page_script page_style)
  set(bytes "")
  string(REPLACE "|" ";" files "${${name}}")
  foreach(file IN LISTS files)
    file(READ "${file}" hex HEX)
    # "//# sourceMappingURL=" and "/*# sourceMappingURL=" to the end of the file
    string(REGEX REPLACE "(2f2f|2f2a)2320736f757263654d617070696e6755524c3d.*$" "" hex "${hex}")
    string(APPEND bytes "${hex}0a")
  endforeach()
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${bytes}")
  string(REGEX REPLACE "((0x..,)(0x..,)(0x..,)(0x..,)(0x..,)(0x..,)(0x..,)(0x..,))" "\\1\n" bytes
         "${bytes}")
  string(APPEND source "constexpr unsigned char ${name}_bytes[] = {\n${bytes}};\n")
  string(APPEND views "std::string_view const ${name}{\n"
         "    reinterpret_cast<char const*>(${name}_bytes), sizeof ${name}_bytes};\n")
endforeach()
string(APPEND source "}  // namespace\n${views}}  // namespace meltlag::page::embedded\n")
file(WRITE "${OUTPUT}" "${source}")
