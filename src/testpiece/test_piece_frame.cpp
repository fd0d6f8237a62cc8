// SPDX-License-Identifier: MIT
// The bead for the screw's turns: a frame around the fence, printed as a spiral.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "test_piece_front.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr int fewest_laps = 5;
constexpr double fewest_turns = 5;
constexpr double highest_frame_mm = 4;  // the nozzle's flank passes beside it

double lap_length(Box const& frame) {
  return 2 * (frame.high_x_mm - frame.low_x_mm + frame.high_y_mm - frame.low_y_mm);
}

// The bead as a multiple of the nominal one that makes a lap a whole number of turns.
struct Fit {
  double factor, turns;
};
Fit whole_turns(double nominal_turns) {
  double const below = std::max(1.0, std::floor(nominal_turns)), above = below + 1;
  bool const up = above / nominal_turns < nominal_turns / below;
  double const turns = up ? above : below;
  return {turns / nominal_turns, turns};
}

}  // namespace

TurnPlan plan_turns(Layout const& layout,
                    Bead const& bead,
                    double e_mm_per_turn,
                    std::vector<std::string>& remarks) {
  double const lap_e_mm = lap_length(*layout.frame) * bead.e_mm_per_mm();
  double const nominal_turns = lap_e_mm / e_mm_per_turn;
  Fit fit = whole_turns(nominal_turns);
  if (fit.factor < narrowest_turn_bead || fit.factor > widest_turn_bead) {
    remarks.push_back(fmt::format(
        "A turn of the screw gives {:.0f} mm³, more than a layer of the frame can hold: its layers "
        "are not in step with the turn.",
        e_mm_per_turn * bead.filament_mm2));
    fit = {1, nominal_turns};
  } else if (std::abs(fit.factor - 1) > 0.005) {
    remarks.push_back(
        fmt::format("The frame's bead holds {:.2f} times the nominal volume, so that "
                    "a layer is {:.0f} {} of the screw.",
                    fit.factor,
                    fit.turns,
                    fit.turns > 1 ? "turns" : "turn"));
  }
  int const wanted =
      std::max(fewest_laps, static_cast<int>(std::ceil(fewest_turns / fit.turns - 1e-9)));
  int const most = std::max(fewest_laps, static_cast<int>(highest_frame_mm / bead.height_mm));
  if (wanted > most) {
    remarks.push_back(
        fmt::format("The frame ends at {:.1f} mm, because the nozzle passes close by "
                    "it: that is {:.1f} turns of the screw instead of {:.0f}.",
                    most * bead.height_mm,
                    most * fit.turns,
                    fewest_turns));
  }
  return {.e_mm_per_mm = bead.e_mm_per_mm() * fit.factor,
          .turns_per_layer = fit.turns,
          .laps = std::min(wanted, most)};
}

TurnBead print_frame(Writer& writer,
                     Layout const& layout,
                     Speeds const& speeds,
                     Bead const& bead,
                     TurnPlan const& plan) {
  Box const& frame = *layout.frame;
  double const speed =
      std::max(speeds.slowest_mm_s, speeds.medium_mm_s * bead.e_mm_per_mm() / plan.e_mm_per_mm);
  double const low_mm = frame.low_x_mm - layout.left_x_mm;
  double const high_mm = frame.high_x_mm - layout.left_x_mm;
  Section back{low_mm, high_mm, speed, plan.e_mm_per_mm, "back side of the frame", {}};
  Section front{high_mm, low_mm, speed, plan.e_mm_per_mm, "front side of the frame", {}};
  for (int lap = 1; lap <= plan.laps; ++lap) {
    double const z = lap * bead.height_mm;
    writer.comment(fmt::format("turn bead, layer {}", lap));
    // The left side climbs; the long sides that calipers rest on are level.
    writer.print({frame.low_x_mm, frame.high_y_mm, z}, plan.e_mm_per_mm, speed);
    back.lines.push_back(
        writer.print({frame.high_x_mm, frame.high_y_mm, z}, plan.e_mm_per_mm, speed));
    writer.print({frame.high_x_mm, frame.low_y_mm, z}, plan.e_mm_per_mm, speed);
    front.lines.push_back(
        writer.print({frame.low_x_mm, frame.low_y_mm, z}, plan.e_mm_per_mm, speed));
  }
  double const z = bead.height_mm;
  return {.trace = leg_count + 1,
          .turns_per_layer = plan.turns_per_layer,
          .turns = plan.turns_per_layer * plan.laps,
          .sections = {std::move(back), std::move(front)},
          .corners = {{frame.low_x_mm, frame.low_y_mm, z},
                      {frame.low_x_mm, frame.high_y_mm, z},
                      {frame.high_x_mm, frame.high_y_mm, z},
                      {frame.high_x_mm, frame.low_y_mm, z}}};
}

}  // namespace meltlag::testpiece::piece
