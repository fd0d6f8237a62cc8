// SPDX-License-Identifier: MIT
// Schedules one window of moves: the kept ones get their pieces, the ones after them are only
// looked at. Moves that are scheduled already stay as they are: the kept ones are made to fit them.
#pragma once

#include <limits>
#include <optional>
#include <span>

#include "cutter.hpp"
#include "meltlag/adapt/pass.hpp"
#include "meltlag/schedule/coarse.hpp"
#include "meltlag/schedule/robust.hpp"
#include "pacer.hpp"
#include "planned_move.hpp"
#include "start_choice.hpp"

namespace meltlag::adapt {

// What one window hands to the next.
struct WindowState {
  double run_on_mm3 = 0;
  double backlash_mm3 = std::numeric_limits<double>::infinity();
  double wound_back_mm3 = 0;
  double store_mm3 = std::numeric_limits<double>::infinity();  // full
  std::optional<double> rate;  // of the last cut, and how far the next may differ
  double jump = std::numeric_limits<double>::infinity();
  std::optional<PaceEntry> pace;   // how the head comes in, where it is paced
  schedule::RunOns run_ons_mm3{};  // of the plants that stand for the uncertainty

  void start(schedule::Problem& problem) const;
};

// What became of the kept records.
struct WindowSums {
  double time_s = 0;  // dwells and E-only moves that stay included
  double wanted_mm3 = 0, misplaced_mm3 = 0;
};

struct WindowResult {
  WindowSums sums;
  LimitTimes limits;
  std::int64_t rounds = 0, steps = 0;
};

// How closely windows are solved: in a long file the last hundredths of a point cost minutes, and
// an estimate (rough) asks how prices compare, on the cuts of what it stands for.
enum class Effort : std::uint8_t { thorough, swift, rough, rough_of_long_file };

// How a problem is solved, on which grid.
struct Stage {
  schedule::OptimiseSettings optimise = {};
  schedule::Coarseness grid = {};
};

class WindowScheduler {
 public:
  WindowScheduler(CutterOptions options,
                  melt::PlantParameters plant,
                  double most_run_on_mm3,
                  Effort effort,
                  PaceOptions pace = {},
                  schedule::LagSpread spread = {});

  [[nodiscard]] Cutter const& cutter() const { return cutter_; }

  // Fills `pieces` of the first `kept` records; `state` goes from the window's start to their end.
  WindowResult schedule(std::span<PlannedMove* const> records,
                        std::size_t kept,
                        WindowState& state);

  // What scheduled records come to from another start; `state` goes to their end.
  WindowSums replay(std::span<PlannedMove* const> records, WindowState& state);

  // What one may guess of the state after records as sliced.
  [[nodiscard]] WindowState guess_behind(std::span<PlannedMove* const> records) const;

 private:
  void build(std::span<PlannedMove* const> records, WindowState const& state);
  void take_given_rates();
  void choose_start();
  double optimise(Stage const& stage, schedule::Optimiser& optimiser);
  void optimise_all(Stage const& stage);
  bool settle_around_stops(std::span<PlannedMove* const> records, WindowState const& state);
  void begin_with_parts();
  bool try_strokes(std::span<PlannedMove* const> records, WindowState const& state);
  void begin_strokes(std::span<PlannedMove* const> records) const;
  enum class Strokes : std::uint8_t { free, decided };
  static bool refill_strokes(std::span<PlannedMove* const> records);
  static void plan(std::span<PlannedMove* const> records, WindowState const& state);
  void plan_again(std::span<PlannedMove* const> records, WindowState const& state);
  bool read_strokes(std::span<PlannedMove* const> records, Strokes strokes);
  void settle_strokes(std::span<PlannedMove* const> records, WindowState const& state);
  bool ask_for_what_is_fed(std::span<PlannedMove* const> records);
  void stay_fed(std::span<PlannedMove* const> records, WindowState const& state);
  void take_as_moves(std::span<PlannedMove* const> records,
                     std::size_t kept,
                     WindowState const& state);
  void count_limits(std::size_t cuts);
  void repair_jumps(WindowState const& state);
  void merge(std::span<PlannedMove* const> records, std::size_t kept);
  [[nodiscard]] double alike(PlannedMove const& record, std::size_t first) const;
  void merge_cuts(PlannedMove& record, std::size_t first);
  void hand_over(std::size_t cuts, WindowState& state) const;
  [[nodiscard]] WindowSums add_up(std::span<PlannedMove* const> records, std::size_t cuts) const;

  Cutter cutter_;
  Effort effort_;
  PaceOptions pace_;
  Pacer pacer_;
  schedule::LagSpread spread_;
  schedule::Plants plants_;
  schedule::RobustOptimiser robust_;
  melt::LagLaw law_;
  double delivered_factor_;
  melt::SupplyLimits supply_;
  double most_run_on_mm3_;
  schedule::Optimiser strokes_optimiser_, optimiser_;  // each learns from its own problems
  schedule::CoarseGrid grid_;
  schedule::Problem problem_;
  schedule::Outcome outcome_;
  std::vector<CutRange> ranges_;
  std::vector<double> rates_, shared_rates_, ends_, most_fed_;
  StartChoice starts_;
  std::vector<double> given_rates_;  // where they are to be tried beside rates_; else empty
  // What was solved of the window before the whole.
  struct Part {
    std::size_t first_record;
    std::vector<CutRange> ranges;
    std::vector<double> rates;
  };
  std::vector<Part> around_stops_;
  WindowResult result_;
};

}  // namespace meltlag::adapt
