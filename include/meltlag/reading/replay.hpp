// SPDX-License-Identifier: MIT
// Replaying a print for many machines: the motion is the same each time, only the melt differs.
#pragma once

#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "meltlag/melt/plant.hpp"
#include "meltlag/reading/printed_path.hpp"

namespace meltlag::reading {

// A machine as the fit sees it: the common plant, and what only shows in second order.
struct TestedPlant {
  melt::PlantParameters plant;
  // The screw delivers (1 + cos_share·cos φ + sin_share·sin φ) of what it is commanded, φ = 2π·E /
  // turn.
  double pulse_cos = 0, pulse_sin = 0;
  double e_mm_per_turn = 0;  // > 0 where it pulses
  // This share of the steady run-on is stored slowly, after a Kelvin–Voigt element:
  //   dV/dt = (c/(1−c)·W − V)/creep_s,  W what is stored at once, V slowly
  double creep_share = 0, creep_s = 0;
};

// What leaves the nozzle, told at places on the head's way.
class Replay {
 public:
  // `places_mm`: on the way, ascending; what lies after the last one is not replayed.
  Replay(PrintedPath const& path, std::span<double const> places_mm);

  // Volume out of the nozzle from the beginning until the head reached each place, mm³. What leaves
  // at a standstill counts after a place that is exactly there.
  [[nodiscard]] std::vector<double> out_mm3(TestedPlant const& plant) const;

 private:
  struct Step {
    double duration_s;
    double from_mm3_s, to_mm3_s;  // commanded
    double e_mm;                  // of the E axis at its start, all moves added up
    double nozzle_c;
    std::int32_t places_reached = 0;  // how many, at its end
    bool runs_out = false;            // a wait of unknown length instead
  };
  void add_rest(PathRest const& rest);
  void add_move(PathMove const& move, std::span<double const> places_mm);
  void reach(std::span<double const> places_mm, double way_mm);

  std::vector<Step> steps_;
  std::size_t places_ = 0, reached_ = 0;
  double e_mm_ = 0, filament_mm2_;
};

}  // namespace meltlag::reading
