// SPDX-License-Identifier: MIT
// Timed moves → the schedule problem of one window: cuts, nodes and cells.
#pragma once

#include <span>

#include "meltlag/schedule/problem.hpp"
#include "planned_move.hpp"
#include "speed_profile.hpp"

namespace meltlag::adapt {

struct CutterOptions {
  double shortest_cut_s;
  int buffer_moves;
  double cell_mm = 0.5;
  double caution = 0;  // share of each limit that is left free beyond the usual margins
};

// Where the cuts of one move stand in the problem.
struct CutRange {
  std::uint32_t first = 0, count = 0;
};

class Cutter {
 public:
  Cutter(CutterOptions options, melt::PlantParameters plant);

  // Clears `problem` and appends the moves in order. `ranges` receives one entry per move.
  void build(std::span<PlannedMove* const> moves,
             schedule::Problem& problem,
             std::vector<CutRange>& ranges);

  // How many cuts a move will have.
  [[nodiscard]] std::size_t count_cuts(PlannedMove const& planned) const;
  // Path length at each cut's end.
  void cut_ends(PlannedMove const& planned, std::vector<double>& ends_mm) const;

 private:
  void append_move(PlannedMove const& planned, schedule::Problem& problem);
  void append_standstill(PlannedMove const& planned,
                         PlannedMove const* next,
                         schedule::Problem& problem);
  void set_stroke(PlannedMove const& planned, schedule::Cut& cut) const;
  void append_dwell(PlannedMove const& planned,
                    PlannedMove const* next,
                    schedule::Problem& problem);
  void set_limits(PlannedMove const& planned,
                  double peak_mm_s,
                  double length_mm,
                  schedule::Cut& cut) const;
  [[nodiscard]] double cut_time(motion::Trapezoid const& speed) const;
  [[nodiscard]] std::size_t count_cuts(motion::Trapezoid const& speed) const;
  void append_ends(PlannedMove const& planned,
                   PacedStretch const& stretch,
                   std::size_t count,
                   std::vector<double>& ends_mm) const;
  [[nodiscard]] std::uint32_t law_for(double nozzle_c, schedule::Problem& problem);
  [[nodiscard]] std::uint32_t standstill_cell(PlannedMove const* next,
                                              schedule::Problem const& problem) const;

  CutterOptions options_;
  melt::PlantParameters plant_;
  std::vector<double> law_temperature_;
  std::vector<double> borders_, cells_, ends_;
  bool last_cell_prints_ = false;
  // The end of the cut before, as the junction to the next one needs it.
  struct Joint {
    double jump_mm_s = std::numeric_limits<double>::infinity();
    double speed_mm_s = 0, duration_s = 0;
    bool arc = false;
    double digit_mm = 0;  // of E there
    // No faster, as the printer plans the E of a line that stays as written.
    double most_mm_s = std::numeric_limits<double>::infinity();
  } joint_;
  // Where the next node of a move lies.
  struct NodePlace {
    std::uint32_t first_cell;
    std::size_t border = 0, cell = 0;
  };
  struct GivenRate {
    double rate;       // E mm per mm
    double most_mm_s;  // of the head at a corner, where the rate is fixed
    bool fixed;
  };
  [[nodiscard]] GivenRate given_rate(PlannedMove const& planned, double length_mm) const;
  [[nodiscard]] schedule::Cut cut_of(PlannedMove const& planned,
                                     GivenRate const& given,
                                     std::size_t k,
                                     double peak_mm_s,
                                     schedule::Problem& problem);
  void append_cut(schedule::Cut cut, Joint const& end, schedule::Problem& problem);
  void find_borders(SpeedProfile const& speed, std::size_t cells);
  void append_nodes(SpeedProfile const& speed,
                    double from_s,
                    double to_s,
                    NodePlace& place,
                    schedule::Problem& problem);
  void enter_joint(PlannedMove const& planned, double planned_mm_s, double most_mm_s);
  [[nodiscard]] double jump_rate(Joint const& joint, Joint const& next) const;
};

}  // namespace meltlag::adapt
