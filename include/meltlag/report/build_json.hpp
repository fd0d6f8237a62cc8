// SPDX-License-Identifier: MIT
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "meltlag/melt/causes.hpp"
#include "meltlag/report/builds.hpp"

namespace meltlag::report {

[[nodiscard]] nlohmann::json build_json(BuildRow const& row);
[[nodiscard]] nlohmann::json causes_json(melt::Causes const& causes);

// What single prints show, in the order of the pages.
struct NamedComparison {
  char const* name;  // also in JSON
  char const* unit;
  compare::Comparison const* comparison;
  std::vector<double> compare::BuildPrints::*values;
};
[[nodiscard]] std::vector<NamedComparison> named(compare::BuildComparison const& prints);
[[nodiscard]] nlohmann::json comparison_json(compare::Comparison const& comparison);

}  // namespace meltlag::report
