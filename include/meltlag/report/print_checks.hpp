// SPDX-License-Identifier: MIT
// What scale, clock and ticks say of a print.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "meltlag/compare/part_mass.hpp"
#include "meltlag/compare/print_time.hpp"
#include "meltlag/compare/ticks.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

[[nodiscard]] std::string to_text(compare::PartMass const& mass);
[[nodiscard]] nlohmann::json to_json(compare::PartMass const& mass);

// `limits`: those of the check, for the entries' values.
[[nodiscard]] std::string to_text(compare::TimeCheck const& check, motion::Limits const& limits);
[[nodiscard]] nlohmann::json to_json(compare::TimeCheck const& check, motion::Limits const& limits);

[[nodiscard]] std::string to_text(compare::Ticks const& ticks);
[[nodiscard]] nlohmann::json to_json(compare::Ticks const& ticks);

// What they say in words.
[[nodiscard]] Sentences findings(compare::PartMass const& mass);
[[nodiscard]] Sentences findings(compare::TimeCheck const& check, motion::Limits const& limits);
[[nodiscard]] Sentences findings(compare::Ticks const& ticks);

}  // namespace meltlag::report
