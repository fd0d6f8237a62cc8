// SPDX-License-Identifier: MIT
// Both edges of a bead from the colours across it.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "profiles.hpp"

namespace meltlag::scan {

// One side of the bead: `sign` 1 where outward is to the left, −1 to the right.
struct EdgeLook {
  double sign = 1;
  double coarse_mm = 0;  // where the edge is, to half a pixel or two
  double room_mm = 0.5;  // of bead within it that may be looked at
};

struct Edge {
  double at_mm = 0;  // across the trail, to the left
  double own_light =
      1;                // the bead's colour along the contrast, in units of it: what shading scales
  double contrast = 0;  // levels, between the two sides' local colours
  double misfit = 0;    // rms of what the step leaves, as a share of the contrast
  Colour inside{};      // local colour of the bead
};

// Light from a bead's inside and its round flank, smeared by a Gaussian, at a distance inward from
// its edge; 1 far within, 0 far without.
class SmearedFlank {
 public:
  SmearedFlank(double blur_mm, double flank_mm);
  [[nodiscard]] double at(double in_mm) const;

 private:
  static constexpr double step_mm = 0.004;
  static constexpr int reach_steps = 200;
  std::vector<double> table_;
};

// A step smeared by a Gaussian of `blur_mm` between two levels, each with a slope, and a bend
// inside (the flank is round), is fitted to the colours projected on the line between both sides'
// local colours. The edge is the step's place. Nothing where both sides look alike.
class EdgeFitter {
 public:
  // `flank_mm`: radius of the bead's round flank, half its height.
  EdgeFitter(Profiles const& profiles, double blur_mm, double flank_mm)
      : profiles_(profiles), blur_mm_(blur_mm), lit_(blur_mm, flank_mm) {}
  [[nodiscard]] std::optional<Edge> fit(std::size_t point, EdgeLook const& look) const;

 private:
  struct Row {
    double out_mm, level;  // from the coarse edge outward
  };
  [[nodiscard]] std::vector<Row> project(std::size_t point, EdgeLook const& look, Edge& edge) const;
  [[nodiscard]] Colour mean_colour(std::size_t point, double from_mm, double to_mm) const;

  Profiles const& profiles_;
  double blur_mm_;
  SmearedFlank lit_;
};

// The blur that lets the given edges fit best, mm.
struct EdgeAt {
  std::size_t point;
  EdgeLook look;
};
[[nodiscard]] double find_blur(Profiles const& profiles,
                               std::vector<EdgeAt> const& edges,
                               double pixel_mm,
                               double flank_mm);

}  // namespace meltlag::scan
