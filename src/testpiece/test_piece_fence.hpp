// SPDX-License-Identifier: MIT
// The fence: one closed loop for each layer, always the same.
#pragma once

#include <string>
#include <vector>

#include "meltlag/testpiece/test_piece.hpp"
#include "test_piece_layout.hpp"
#include "test_piece_settings.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::testpiece::piece {

// What one line of a leg does, and what the screw does before and after it.
struct WallStretch {
  double length_mm;
  double speed_mm_s;
  double e_mm_per_mm;  // 0: the screw stands
  std::string about;
  double turn_first_e_mm = 0;  // with the head at rest; negative: backward
  double rest_after_s = 0;
};

// The stretches of a leg, in the order printed; they add up to `leg_mm`.
[[nodiscard]] std::vector<WallStretch> stretches_of(
    Group group, int copy, double leg_mm, Speeds const& speeds, Bead const& bead);

// The groups of legs 1 … 15: three copies, each in an order of its own that `seed` alone decides.
[[nodiscard]] std::vector<Group> shuffled_groups(std::uint32_t seed);

// E per mm of the return leg as a multiple of the nominal one, from layer to layer: it sets the
// layers out of step with the screw's turns.
class ReturnFactors {
 public:
  // `layer_e_mm` is E of a layer with the nominal return leg, `return_e_mm` that of this leg.
  ReturnFactors(PieceOptions const& options,
                double layer_e_mm,
                double return_e_mm,
                std::vector<std::string>& remarks);
  [[nodiscard]] double of_layer(int layer) const;

 private:
  bool steady_ = false;
  double factor_ = 1;
};

class Fence {
 public:
  Fence(Layout const& layout, Speeds const& speeds, Bead const& bead, std::uint32_t seed);

  // Prints layer 1, 2, … from where the return leg begins, with its E per mm as a multiple of the
  // nominal one, and adds the lines to the walls' sections.
  void print_layer(Writer& writer, int layer, double return_factor);

  [[nodiscard]] Vec3 beginning() const;
  [[nodiscard]] std::vector<Vec3> loop() const;  // corners of the path, z = 0
  [[nodiscard]] std::vector<Wall> const& walls() const { return walls_; }
  // Smallest volume between the beginning of a layer and trace 1, so far.
  [[nodiscard]] double lead_in_mm3() const { return lead_in_mm3_; }

 private:
  void print_lead_in(Writer& writer, int layer, double return_factor);
  void print_leg(Writer& writer, std::size_t index, int layer);

  Layout const& layout_;
  Speeds const& speeds_;
  Bead const& bead_;
  std::vector<Wall> walls_;
  std::vector<std::vector<WallStretch>> stretches_;  // of each wall
  double lead_in_mm3_ = 1e9;
};

// Length of the lead-in of a layer: link, return leg and leg 0 with the links at its ends.
[[nodiscard]] double lead_in_length(Layout const& layout);
[[nodiscard]] double return_length(Layout const& layout);

}  // namespace meltlag::testpiece::piece
