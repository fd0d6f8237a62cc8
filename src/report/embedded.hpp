// SPDX-License-Identifier: MIT
// Texts that go into every page; the build makes them from files (page/embed.cmake).
#pragma once

#include <string_view>

namespace meltlag::report::embedded {

extern std::string_view const chart_script;  // the charting library
extern std::string_view const chart_style;
extern std::string_view const chart_licence;
extern std::string_view const page_script;  // page/*.js
extern std::string_view const page_style;   // page/page.css

}  // namespace meltlag::report::embedded
