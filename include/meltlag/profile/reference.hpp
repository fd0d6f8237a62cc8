// SPDX-License-Identifier: MIT
// The reference of all keys that a profile may hold, made from the one list that loading uses too.
#pragma once

#include <string>

namespace meltlag::profile {

// For a terminal: every key in its section, as one types it, and its meaning with the unit.
[[nodiscard]] std::string keys_text();

// The same as a page in Markdown with what a profile is, one table for each section, and what holds
// where a key is left out. It is the text of profiles/README.md.
[[nodiscard]] std::string keys_markdown();

}  // namespace meltlag::profile
