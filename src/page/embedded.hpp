// SPDX-License-Identifier: MIT
// Texts that go into every page; the build makes them from files (scripts/embed.cmake).
#pragma once

#include <string_view>

namespace meltlag::page::embedded {

extern std::string_view const chart_script;  // the charting library
extern std::string_view const chart_style;
extern std::string_view const chart_licence;
extern std::string_view const page_script;  // scripts/*.js
extern std::string_view const page_style;   // scripts/page.css

}  // namespace meltlag::page::embedded
