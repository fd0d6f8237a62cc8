// SPDX-License-Identifier: MIT
#pragma once

#include "meltlag/page/comparison_page.hpp"
#include "meltlag/page/html.hpp"

namespace meltlag::page {

// "0.121 ± 0.030", with no digits left out before the point.
[[nodiscard]] std::string measured_text(double value, double sd);

// One column a kind: rows, bias, rms, what lag explains.
void write_kinds(Out const& out, compare::PrintComparison const& comparison);
// The worst stretches; nothing where none stands out.
void write_worst(Out const& out, compare::PrintComparison const& comparison);

void write_mass(HtmlPage& html, compare::PartMass const& mass);
void write_time(HtmlPage& html, compare::TimeCheck const& check, motion::Limits const& limits);
void write_ticks(HtmlPage& html, compare::Ticks const& ticks);

}  // namespace meltlag::page
