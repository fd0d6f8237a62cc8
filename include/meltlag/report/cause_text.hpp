// SPDX-License-Identifier: MIT
// Sentences that the terminal and the page share.
#pragma once

#include <string>

#include "meltlag/melt/back_leak.hpp"
#include "meltlag/melt/causes.hpp"

namespace meltlag::report {

[[nodiscard]] std::string volume_text(melt::Causes const& causes);
[[nodiscard]] std::string thrust_text(melt::Causes const& causes);
[[nodiscard]] std::string doubt_text(melt::Causes const& causes);
[[nodiscard]] std::string leak_text(melt::BackLeak const& leak);

}  // namespace meltlag::report
