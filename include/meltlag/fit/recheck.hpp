// SPDX-License-Identifier: MIT
// Whether a lag that was measured before still holds, by a handful of readings: after a new batch,
// temperature or nozzle.
//
// With r the readings less what the profile predicts, V their covariance (tool, place, layer
// height, and what the profile's own ± make of them), χ² = rᵀ·V⁻¹·r says whether it holds. Where it
// does not, each parameter θ is let free alone: with its derivatives J the readings want it moved
// by
//   δ = Jᵀ·V⁻¹·r / (Jᵀ·V⁻¹·J),  sd(δ)² = 1/(Jᵀ·V⁻¹·J),  χ²(θ) = χ² − δ²/sd(δ)²
// (generalised least squares, any textbook of statistics), repeated at the moved value.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/reading/predictor.hpp"

namespace meltlag::fit {

enum class Moved : std::uint8_t { run_on, flow_index, delivered_factor };
[[nodiscard]] std::string_view name_of(Moved moved);  // "run-on", …

struct RecheckOptions {
  melt::LagLaw law;
  melt::Feed feed;
  double leak_per_s = 0;
  double run_on_sd_mm3 = 0, flow_index_sd = 0, correlation = 0;  // of these two
  double factor_sd = 0;
  reading::PredictorOptions predictor;
};

struct MovedTo {
  Moved parameter = Moved::run_on;
  double from = 0, to = 0, sd = 0;
  double chi_squared = 0, p = 0;  // with that parameter free
};

enum class RecheckLevel : std::uint8_t {
  holds,
  moved,        // one parameter explains it
  several,      // none alone does
  cannot_tell,  // the readings would not have shown a run-on of half as much again
};

struct Recheck {
  RecheckLevel level = RecheckLevel::holds;
  int readings = 0;
  double chi_squared = 0, p = 0;
  std::vector<MovedTo> moved = {};  // the best first
  double visible_run_on_share = 0;  // the change of the run-on that two deviations make
};

// Throws Error where fewer than three readings can be used.
[[nodiscard]] Recheck recheck(reading::PrintedPath const& path,
                              std::vector<reading::Reading> const& readings,
                              RecheckOptions const& options);

}  // namespace meltlag::fit
