// SPDX-License-Identifier: MIT
// Layers, and how much slower each has to be driven so that it takes as long as it did.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "meltlag/adapt/pass.hpp"
#include "meltlag/gcode/layers.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "retract_policy.hpp"

namespace meltlag::adapt {

// The number of the layer that the next move belongs to, from 0; before the first bead too.
[[nodiscard]] inline std::size_t layer_of(gcode::Move const& move, gcode::LayerCounter& layers) {
  layers.take(move);
  return static_cast<std::size_t>(std::max<std::int64_t>(0, layers.count() - 1));
}

// Times as planned and scheduled are nearly, not quite, those of the text, which is seldom faster.
inline constexpr double time_rounding = 5e-4;

[[nodiscard]] inline gcode::ReadOptions read_options(AdaptOptions const& options) {
  return {options.plant.feed.slicer_diameter_mm, options.g91_covers_e};
}

// How each layer is driven, by the numbers of layer_of().
struct LayerPlan {
  std::vector<double> factors;    // ≤ 1, of the speeds of free moves
  std::vector<double> planned_s;  // with the stops as long as sliced, where they stay
};

// Without the stops for absorbed moves a layer is printed sooner; what free moves lose of their
// speed makes up for it. `lost_s`: time that the schedule takes off each layer beyond that, empty
// where that is not known. Reads the whole file, a few times.
[[nodiscard]] LayerPlan plan_layers(std::string const& path,
                                    AdaptOptions const& options,
                                    RetractPolicyOptions const& retract_policy,
                                    std::vector<double> const& lost_s);

// Whether E may be put on the move: not where that would change its acceleration.
[[nodiscard]] bool keeps_acceleration(gcode::Move const& move, motion::Limits const& limits);

// The move as it is planned: its flow set right, slowed by the factor where it may be.
[[nodiscard]] gcode::Move planned_move(PlannedMove const& planned,
                                       double speed_factor,
                                       double delivered_factor);
// Where its E counts while planning: E that is free to choose keeps its limits at the speeds
// planned without it; next to a stop the printer has its own mind.
[[nodiscard]] motion::PlanE plan_e(PlannedMove const& planned);

}  // namespace meltlag::adapt
