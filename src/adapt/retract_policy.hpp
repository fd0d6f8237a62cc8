// SPDX-License-Identifier: MIT
// Decides what becomes of each move's E before anything is timed: an E-only move is free, or
// absorbed, where printing stands before and after it in one stretch; retracts before a wait, a
// tool change or the end, long unloads with their recovery, and purge stay as written.
#pragma once

#include <deque>
#include <functional>
#include <variant>

#include "meltlag/adapt/pass.hpp"
#include "meltlag/gcode/purge.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "planned_move.hpp"

namespace meltlag::adapt {

struct RetractPolicyOptions {
  double unload_mm3;    // an E-only move back of more than this stays as written
  double cold_below_c;  // nothing is changed below this set temperature
  StopPolicy stops = StopPolicy::kept;
  Rewrite rewrite = Rewrite::schedule;
  std::vector<LineRange> flow_alone = {};  // lines whose flow is set right alone, ascending
};

using Entry = std::variant<PlannedMove, gcode::Halt, gcode::Setting>;

class RetractPolicy {
 public:
  // `out` receives every entry in order, its fate decided.
  RetractPolicy(RetractPolicyOptions options, std::function<void(Entry&&)> out);

  void push(gcode::Move const& move);
  void push(gcode::Halt const& halt);
  void push(gcode::Setting const& setting);
  void finish();

 private:
  enum class Next : std::uint8_t { printing, stretch_end };
  static constexpr std::size_t most_pending = 20000;

  [[nodiscard]] PlannedMove judge(gcode::Move const& move);
  [[nodiscard]] bool flow_alone(PlannedMove const& planned);
  void decide(PlannedMove& planned, Next next);
  void go_the_way_of_its_retract(PlannedMove& planned);
  void keep_last_retract();
  void dry_travels();
  void release(Next next);

  RetractPolicyOptions options_;
  std::size_t next_alone_ = 0;  // of these ranges
  judge::KeptE kept_e_;
  std::function<void(Entry&&)> out_;
  std::deque<Entry> pending_;  // since the last printing move
  bool printed_ = false;       // in this stretch
  gcode::PurgeCounter purges_;
  double kept_debt_mm3_ = 0;      // retracted by lines that stay, and not yet recovered
  double absorbed_debt_mm3_ = 0;  // the same by absorbed lines
  std::uint64_t bare_ours_ = 0;   // of tools whose bare retract is written anew, not yet recovered
};

}  // namespace meltlag::adapt
