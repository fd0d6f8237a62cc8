// SPDX-License-Identifier: MIT
// A row for each figure of a print, shared by the terminal and the page.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "meltlag/report/metrics.hpp"

namespace meltlag::report {

enum class On : std::uint8_t { both, terminal, page };  // where a row is shown

struct MetricsRow {
  std::string name;
  std::string json;                 // its key in to_json(PrintMetrics)
  std::vector<std::string> values;  // as sliced, with its flow set right, adapted: those there are
  On on = On::both;
};
[[nodiscard]] std::vector<MetricsRow> metrics_rows(MetricsTable const& table);

}  // namespace meltlag::report
