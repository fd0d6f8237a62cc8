// SPDX-License-Identifier: MIT
#include "meltlag/profile/reference.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

#include "schema.hpp"

namespace meltlag::profile {
namespace {

constexpr std::string_view head =
    R"(<!-- Written by `meltlag profile keys --markdown`: change src/profile/schema.cpp and write it anew. -->
# Profiles

A profile is a TOML file that describes one machine as it is built now, with one plastic and one nozzle.
`meltlag profile new auger.toml --ask` writes one with a comment on every key, `meltlag profile check auger.toml`
says in words what it describes, what is missing and what to do next.

`adapt` needs either `[lag]` or the parts that explain it: `[barrel]`, `[nozzle]`, `[mechanics]` and `[material]`.
Where both are there it uses the measured lag, and `profile check` compares the two: a difference tells something
about the hardware. `calibrate` needs `[feed]` and `[machine]` only.

| file | describes |
|---|---|
| `bench-auger-printed.toml` | a bench auger whose bracket is printed |
| `bench-auger-braced.toml` | the same machine braced with steel: `base` and what differs |
| `materials/` | plastics, with the ranges of published values |

**A lag without calipers.** Extrude into the air at a steady flow, stop the screw, catch what still comes out; do it
thirty times, weigh it all, divide by the number and by the density (1.24 mg/mm³ for PLA). Do the same at half the
flow: `flow_index` is log(first / second) / log 2.

This is a whole one with the measured lag of a machine:

```toml
title = "Bench auger, printed bracket"

[feed]
slicer_diameter_mm = 1.75   # filament diameter that the slicer computes with
delivered_factor = 0.96     # what arrives for each mm³ that the file asks for

[lag]
run_on_mm3 = 5.0            # what still comes out after the screw stops ...
at_flow_mm3_s = 5.0         # ... at this steady flow
flow_index = 0.6            # at half the flow it is 0.5^flow_index of that

[machine]
acceleration_mm_s2 = 800
corner_rule = "jump"
corner_jump_mm_s = { x = 10, y = 10, z = 0.4, e = 5 }
max_speed_mm_s = { x = 300, y = 300, z = 20, e = 60 }
max_acceleration_mm_s2 = { x = 9000, y = 9000, z = 500, e = 5000 }

[limits]
max_flow_mm3_s = 15         # the most that the screw feeds forward
```

## All keys

± says that `KEY_sd` may stand beside the key: its standard deviation, in the same unit; for a material also
`KEY_low` and `KEY_high`. An unknown key is an error that names the nearest known one. M codes in a file override
`[machine]` from that line on. Where the greatest screw rate and thrust are not known, they stay within 1.2 times the
original's.
)";

// What an outsider types above the keys of a section: "[lag]"; a section inside another one is the
// value of a key there, as an inline table or as entries of their own.
std::string title(std::string_view section) {
  if (section.empty()) return "at the top";
  if (section == "machine.axes") return "`{ x, y, z, e }` in `[machine]`";
  bool const many = section == "measured" || section.find('.') != std::string_view::npos;
  return many ? fmt::format("`[[{}]]`", section) : fmt::format("`[{}]`", section);
}

// In the order in which the list names them first.
std::vector<std::string_view> sections_of_keys() {
  std::vector<std::string_view> sections;
  for (KnownKey const& key : known_keys())
    if (std::ranges::find(sections, key.section) == sections.end()) sections.push_back(key.section);
  return sections;
}

std::string table_row(KnownKey const& key) {
  return fmt::format("| `{}`{} | `{}` | {} | {} |\n",
                     key.name,
                     key.kind == KeyKind::plain ? "" : " ±",
                     key.example,
                     key.left_out,
                     key.meaning);
}

}  // namespace

std::string keys_text() {
  std::string text;
  for (std::string_view const section : sections_of_keys()) {
    text += section.empty() ? "" : fmt::format("\n[{}]\n", section);
    for (KnownKey const& key : known_keys())
      if (key.section == section)
        text += fmt::format("{} = {}\n    {}\n", key.name, key.example, key.meaning);
  }
  return text;
}

std::string keys_markdown() {
  std::string text{head};
  for (std::string_view const section : sections_of_keys()) {
    text +=
        fmt::format("\n### {}\n\n| key | for example | left out | meaning |\n|---|---|---|---|\n",
                    title(section));
    for (KnownKey const& key : known_keys())
      if (key.section == section) text += table_row(key);
  }
  return text;
}

}  // namespace meltlag::profile
