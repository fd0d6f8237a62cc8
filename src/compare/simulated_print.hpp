// SPDX-License-Identifier: MIT
// Runs several machines along one print and notes what they do at given places and times.
#pragma once

#include <span>
#include <vector>

#include "meltlag/melt/plant.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::compare {

// Where and when to look; both ascending.
struct Marks {
  std::vector<double> ways_mm;  // on the head's way
  std::vector<double> times_s;  // of the planned time; any, also before and after the print
};

// What all machines have alike at a time.
struct Moment {
  std::int64_t line = 0;  // of the move under way or the last; 0 before the first
  double way_mm = 0;
  double speed_mm_s = 0;  // of the head
  double nozzle_c = 0;    // NaN: not set
  Vec3 at_mm;
};

struct SimulatedPrint {
  std::size_t machines = 0;
  // [mark · machines + machine]: volume out of the nozzle until then, mm³.
  std::vector<double> out_at_way_mm3, out_at_time_mm3;
  std::vector<double> flow_mm3_s, run_on_mm3;  // at the times
  std::vector<double> way_s;                   // when the head is first at each way
  std::vector<Vec3> way_at_mm;
  std::vector<Moment> moments;  // at the times

  [[nodiscard]] double out_between(std::size_t from_way, std::size_t to_way, std::size_t m) const {
    return out_at_way_mm3[to_way * machines + m] - out_at_way_mm3[from_way * machines + m];
  }
};

// A place that is exactly where the head stands still counts what leaves there as after it.
[[nodiscard]] SimulatedPrint simulate_print(std::string const& path,
                                            std::span<melt::PlantParameters const> machines,
                                            Marks const& marks,
                                            motion::WalkOptions const& options,
                                            Notices& notices);

}  // namespace meltlag::compare
