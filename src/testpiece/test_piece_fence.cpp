// SPDX-License-Identifier: MIT
#include "test_piece_fence.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace meltlag::testpiece::piece {
namespace {

constexpr double golden_part = 2 - std::numbers::phi;  // 0.382
constexpr double most_change = 0.15;
// The return leg climbs from layer to layer. In the first layer it begins at half the height, so
// the gap that it fills there and in the second layer is three quarters of a layer in the mean.
constexpr double first_height = 0.5, first_filling = 0.75;

double part_of(double value) { return value - std::floor(value); }

// How far `turns` are from a whole number and from a half one, 0 … 1/4: small when the same phase
// comes back after one or two layers.
double out_of_step(double turns) {
  double const half = part_of(2 * turns);
  return std::min(half, 1 - half) / 2;
}

}  // namespace

ReturnFactors::ReturnFactors(PieceOptions const& options,
                             double layer_e_mm,
                             double return_e_mm,
                             std::vector<std::string>& remarks) {
  if (!options.e_mm_per_turn) return;
  steady_ = true;
  double const turn_mm = *options.e_mm_per_turn;
  auto const turns_at = [&](double factor) {
    return (layer_e_mm + (factor - 1) * return_e_mm) / turn_mm;
  };
  double nearest = 2;
  for (double const wanted : {golden_part, 1 - golden_part}) {
    double const whole = std::round(turns_at(1) - wanted);
    double const change = ((whole + wanted) * turn_mm - layer_e_mm) / return_e_mm;
    if (std::abs(change) < std::abs(nearest)) nearest = change;
  }
  factor_ = 1 + std::clamp(nearest, -most_change, most_change);
  double const turns = turns_at(factor_);
  if (out_of_step(turns) < 0.05) {
    remarks.push_back(
        fmt::format("A layer of the fence takes {:.2f} turns of the screw: what pulses with the "
                    "turn comes back "
                    "to the same places within two layers, and the fence's readings see it.",
                    turns));
  }
}

// Without a known turn, steps of the golden ratio from layer to layer average over turns of any
// size.
double ReturnFactors::of_layer(int layer) const {
  double const change =
      steady_ ? factor_ - 1 : most_change * (2 * part_of(layer * golden_part) - 1);
  return (layer <= 2 ? first_filling : 1) * (1 + change);
}

Fence::Fence(Layout const& layout, Speeds const& speeds, Bead const& bead, std::uint32_t seed)
    : layout_(layout), speeds_(speeds), bead_(bead) {
  double const leg_mm = layout.right_x_mm - layout.left_x_mm;
  std::vector<Group> const order = shuffled_groups(seed);
  int const legs_a_copy = leg_count / 3;
  for (int trace = 1; trace <= leg_count; ++trace) {
    Wall wall{.trace = trace,
              .group = order[static_cast<std::size_t>(trace - 1)],
              .copy = (trace - 1) / legs_a_copy + 1,
              .y_mm = layout.leg_y_mm(trace),
              .sections = {}};
    stretches_.push_back(stretches_of(wall.group, wall.copy, leg_mm, speeds, bead));
    bool const backward = trace % 2 == 1;
    double at_mm = backward ? leg_mm : 0;
    for (WallStretch const& stretch : stretches_.back()) {
      double const to_mm = at_mm + (backward ? -stretch.length_mm : stretch.length_mm);
      wall.sections.push_back({.from_mm = at_mm,
                               .to_mm = to_mm,
                               .speed_mm_s = stretch.speed_mm_s,
                               .e_mm_per_mm = stretch.e_mm_per_mm,
                               .about = stretch.about,
                               .lines = {}});
      at_mm = to_mm;
    }
    walls_.push_back(std::move(wall));
  }
}

Vec3 Fence::beginning() const {
  return {layout_.return_x_mm, layout_.top_y_mm, first_height * bead_.height_mm};
}

std::vector<Vec3> Fence::loop() const {
  double const return_x = layout_.return_x_mm, y = layout_.first_y_mm, top_y = layout_.top_y_mm;
  std::vector<Vec3> corners = {{return_x, top_y, 0}, {return_x, y, 0}, {layout_.right_x_mm, y, 0}};
  for (Wall const& wall : walls_) {
    double const from_x = layout_.left_x_mm + wall.sections.front().from_mm;
    double const to_x = layout_.left_x_mm + wall.sections.back().to_mm;
    corners.insert(corners.end(), {{from_x, wall.y_mm, 0}, {to_x, wall.y_mm, 0}});
  }
  corners.insert(corners.end(), {{corners.back().x, top_y, 0}, corners.front()});
  return corners;
}

void Fence::print_lead_in(Writer& writer, int layer, double return_factor) {
  double const e = bead_.e_mm_per_mm(), speed = speeds_.lead_in_mm_s;
  double const z = layer * bead_.height_mm, y = layout_.first_y_mm;
  double const before_mm = writer.e_mm();
  writer.comment(fmt::format("lead-in, layer {}", layer));
  writer.print({layout_.return_x_mm, y, z}, e * return_factor, speed);
  writer.print({layout_.left_x_mm, y, z}, e, speed);
  writer.print({layout_.right_x_mm, y, z}, e, speed);
  writer.print({layout_.right_x_mm, layout_.leg_y_mm(1), z}, e, speed);
  lead_in_mm3_ = std::min(lead_in_mm3_, (writer.e_mm() - before_mm) * bead_.filament_mm2);
}

void Fence::print_leg(Writer& writer, std::size_t index, int layer) {
  Wall& wall = walls_[index];
  double const z = layer * bead_.height_mm;
  writer.comment(fmt::format(
      "trace {}: {}, copy {}, layer {}", wall.trace, name_of(wall.group), wall.copy, layer));
  for (std::size_t i = 0; i < wall.sections.size(); ++i) {
    WallStretch const& stretch = stretches_[index][i];
    Vec3 const to = {layout_.left_x_mm + wall.sections[i].to_mm, wall.y_mm, z};
    if (stretch.turn_first_e_mm != 0) writer.turn(stretch.turn_first_e_mm, speeds_.turn_e_mm_s);
    wall.sections[i].lines.push_back(stretch.e_mm_per_mm > 0
                                         ? writer.print(to, stretch.e_mm_per_mm, stretch.speed_mm_s)
                                         : writer.go(to, stretch.speed_mm_s));
    if (stretch.rest_after_s > 0) writer.dwell(stretch.rest_after_s);
  }
}

void Fence::print_layer(Writer& writer, int layer, double return_factor) {
  print_lead_in(writer, layer, return_factor);
  double const e = bead_.e_mm_per_mm(), z = layer * bead_.height_mm;
  for (std::size_t i = 0; i < walls_.size(); ++i) {
    print_leg(writer, i, layer);
    bool const last = i + 1 == walls_.size();
    double const y = last ? layout_.top_y_mm : walls_[i + 1].y_mm;
    writer.print({writer.at().x, y, z}, e, speeds_.medium_mm_s);
  }
  writer.print({layout_.return_x_mm, layout_.top_y_mm, z}, e, speeds_.lead_in_mm_s);
}

double return_length(Layout const& layout) { return layout.top_y_mm - layout.first_y_mm; }

double lead_in_length(Layout const& layout) {
  return return_length(layout) + layout.right_x_mm - layout.return_x_mm + layout.pitch_mm;
}

}  // namespace meltlag::testpiece::piece
