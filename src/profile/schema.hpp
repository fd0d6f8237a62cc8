// SPDX-License-Identifier: MIT
// Every key that a profile may hold, once: unknown keys are found here, and so are the words of
// errors.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace meltlag::profile {

enum class KeyKind : std::uint8_t {
  plain,     // stands alone
  measured,  // KEY_sd may stand beside it
  material,  // KEY_sd, or KEY_low and KEY_high, may stand beside it
};

struct KnownKey {
  std::string_view
      section;  // "" for the top level; "barrel.sections", "machine.axes" for tables inside
  std::string_view name;
  std::string_view example;  // as one would type it
  std::string_view meaning;  // with its unit
  KeyKind kind = KeyKind::plain;
  std::string_view left_out = {};  // what holds where the key is left out; empty: nothing does
};

// In the order in which a starter lists them.
[[nodiscard]] std::span<KnownKey const> known_keys();
// nullptr where there is none.
[[nodiscard]] KnownKey const* find_key(std::string_view section, std::string_view name);
// All names that may be typed in a section, `_sd`, `_low` and `_high` included.
[[nodiscard]] std::vector<std::string> names_in(std::string_view section);
[[nodiscard]] std::span<std::string_view const> section_names();

}  // namespace meltlag::profile
