// SPDX-License-Identifier: MIT
#include "estimate.hpp"

#include "meltlag/report/table.hpp"

namespace meltlag::report {

std::string plus_minus(fit::Value const& value) { return plus_minus(value.value, value.sd); }

nlohmann::json estimate_json(fit::Value const& value) {
  return {{"value", value.value}, {"sd", value.sd}};
}

}  // namespace meltlag::report
