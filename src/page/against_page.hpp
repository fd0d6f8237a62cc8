// SPDX-License-Identifier: MIT
// The part of the page of `causes` that holds an old build against the new one.
#pragma once

#include <string>

#include "meltlag/page/html.hpp"
#include "meltlag/report/builds.hpp"

namespace meltlag::page {

// The verdicts in one sentence.
[[nodiscard]] std::string verdict_text(report::AgainstPage const& page);
void write_against(HtmlPage& html, report::AgainstPage const& page);

}  // namespace meltlag::page
