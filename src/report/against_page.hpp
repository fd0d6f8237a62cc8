// SPDX-License-Identifier: MIT
// The part of the page of `causes` that holds an old build against the new one.
#pragma once

#include <string>

#include "meltlag/report/builds.hpp"
#include "meltlag/report/html.hpp"

namespace meltlag::report {

// The verdicts in one sentence.
[[nodiscard]] std::string verdict_words(AgainstPage const& page);
void write_against(HtmlPage& html, AgainstPage const& page);

}  // namespace meltlag::report
