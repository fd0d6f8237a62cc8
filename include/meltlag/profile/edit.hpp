// SPDX-License-Identifier: MIT
// Changing one value of a profile's text without touching the rest: comments, order and spacing
// stay.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace meltlag::profile {

// `toml_text` with `key = value` in [section] ("" for the top level). A value that is there is
// replaced where it stands; otherwise a line is put below a comment line that shows the key ("# key
// = …"), else below the section's last key, else a new section at the end. All else stays byte for
// byte. `value` is TOML text: see toml_number and toml_text. Throws Error if the text is no valid
// TOML or if a value of that kind cannot stand there.
[[nodiscard]] std::string with_value(std::string_view toml_text,
                                     std::string_view section,
                                     std::string_view key,
                                     std::string_view value);

struct Field {
  std::string key, value;  // TOML text
};

// `toml_text` with one more table in the array `key` of [section]: after the last one, on a line
// of its own where the array has several lines, under a header of its own where the others have
// one. A table with the same first field is replaced instead; the first field is its name. All else
// stays byte for byte. Throws Error like with_value. REQUIRES: fields not empty, section not "".
[[nodiscard]] std::string with_entry(std::string_view toml_text,
                                     std::string_view section,
                                     std::string_view key,
                                     std::vector<Field> const& fields);

// The shortest decimal that reads back as `value`, with a point: "5.0", "0.0123". REQUIRES: finite.
[[nodiscard]] std::string toml_number(double value);
// Rounded to so many significant digits, for measured values. REQUIRES: finite, digits ≥ 1.
[[nodiscard]] std::string toml_number(double value, int significant_digits);
// A quoted text.
[[nodiscard]] std::string toml_quoted(std::string_view text);

}  // namespace meltlag::profile
