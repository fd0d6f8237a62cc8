// SPDX-License-Identifier: MIT
#include "retract_policy.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::adapt {
namespace {

constexpr double nothing_mm3 = 1e-9;

// Is the line in one of the ranges? Lines come in ascending order.
bool is_in(std::vector<LineRange> const& ranges, std::size_t& next, std::int64_t line) {
  while (next < ranges.size() && ranges[next].last < line) ++next;
  return next < ranges.size() && ranges[next].first <= line;
}

}  // namespace

RetractPolicy::RetractPolicy(RetractPolicyOptions options, std::function<void(Entry&&)> out)
    : options_(std::move(options)), kept_e_(options_.unload_mm3), out_(std::move(out)) {}

bool RetractPolicy::flow_alone(PlannedMove const& planned) {
  return options_.rewrite == Rewrite::flow_alone ||
         is_in(options_.flow_alone, next_alone_, planned.move.line);
}

// Debt and purge follow from the file's own order, whatever becomes of the lines.
PlannedMove RetractPolicy::judge(gcode::Move const& move) {
  PlannedMove planned;
  planned.move = move;
  planned.cold = !std::isnan(move.nozzle_c) && move.nozzle_c < options_.cold_below_c;
  bool const changeable = move.rewritable && !planned.cold && options_.rewrite != Rewrite::nothing;
  planned.extrusion = changeable ? ExtrusionPolicy::free_rate : ExtrusionPolicy::as_written;
  planned.purge = purges_.purged_mm3(move) > 0;
  bool const unloads =
      move.kind == gcode::MoveKind::e_only && -move.volume_mm3 > options_.unload_mm3;
  // Of a bare one that the slicer's flow setting leaves alone the recovery may still be divided.
  bool const by_e = move.bare_retract && options_.rewrite == Rewrite::flow_alone;
  if (planned.purge || (unloads && !by_e)) planned.extrusion = ExtrusionPolicy::as_written;
  planned.kept_e_mm = kept_e_.take(move, planned.purge);
  return planned;
}

void RetractPolicy::push(gcode::Move const& move) {
  PlannedMove planned = judge(move);
  if (move.kind == gcode::MoveKind::print) {
    release(Next::printing);
    printed_ = true;
    if (planned.extrusion != ExtrusionPolicy::as_written && flow_alone(planned))
      planned.extrusion = ExtrusionPolicy::flow_right;
    out_(std::move(planned));
    return;
  }
  pending_.emplace_back(std::move(planned));
  if (pending_.size() > most_pending) release(Next::stretch_end);
}

void RetractPolicy::push(gcode::Halt const& halt) {
  bool const ends = halt.kind == gcode::HaltKind::wait || halt.tool_change || halt.macro;
  if (ends) {
    release(Next::stretch_end);
    printed_ = false;
    out_(gcode::Halt(halt));
  } else {
    pending_.emplace_back(halt);
  }
}

void RetractPolicy::push(gcode::Setting const& setting) { pending_.emplace_back(setting); }

void RetractPolicy::finish() { release(Next::stretch_end); }

// A recovery goes the way of the retract it makes good: the latest absorbed one first, then a kept
// one.
void RetractPolicy::decide(PlannedMove& planned, Next next) {
  double const volume = planned.move.volume_mm3;
  bool const e_only = planned.move.kind == gcode::MoveKind::e_only;
  if (planned.extrusion == ExtrusionPolicy::free_rate) {
    bool const of_kept =
        volume > 0 && absorbed_debt_mm3_ <= nothing_mm3 && kept_debt_mm3_ > nothing_mm3;
    bool const ends = next == Next::stretch_end;
    if (flow_alone(planned)) {
      // As with the slicer's flow setting, whether something was printed before or not.
      planned.extrusion = ExtrusionPolicy::flow_right;
    } else if (ends || (e_only && (!printed_ || of_kept))) {
      planned.extrusion = ExtrusionPolicy::as_written;
    } else if (e_only) {
      planned.extrusion = options_.stops == StopPolicy::kept ? ExtrusionPolicy::free_stroke
                                                             : ExtrusionPolicy::absorbed;
    }
  }
  if (planned.move.bare_retract) go_the_way_of_its_retract(planned);
  double& debt =
      planned.extrusion == ExtrusionPolicy::as_written ? kept_debt_mm3_ : absorbed_debt_mm3_;
  if (volume < 0) debt -= volume;
  if (volume > 0 && e_only) debt = std::max(0.0, debt - volume);
}

// A G10 that stays needs its own G11: the printer remembers. One that is written anew has none that
// the printer would obey: its amount comes as E.
void RetractPolicy::go_the_way_of_its_retract(PlannedMove& planned) {
  auto const tool = gcode::tool_bit(planned.move.tool);
  bool const stays = planned.extrusion == ExtrusionPolicy::as_written;
  if (planned.move.e_mm < 0) {
    bare_ours_ = stays ? bare_ours_ & ~tool : bare_ours_ | tool;
    return;
  }
  if ((bare_ours_ & tool) == 0) {
    planned.extrusion = ExtrusionPolicy::as_written;
  } else if (stays) {
    planned.extrusion = ExtrusionPolicy::flow_right;
    planned.kept_e_mm = planned.move.e_mm;
  }
  bare_ours_ &= ~tool;
}

void RetractPolicy::release(Next next) {
  for (Entry& entry : pending_) {
    if (auto* planned = std::get_if<PlannedMove>(&entry)) decide(*planned, next);
  }
  if (next == Next::stretch_end) keep_last_retract();
  dry_travels();
  for (Entry& entry : pending_) out_(std::move(entry));
  pending_.clear();
}

// Before a wait, a tool change or the end.
void RetractPolicy::keep_last_retract() {
  auto const is_e_only = [](Entry const& entry) {
    auto const* planned = std::get_if<PlannedMove>(&entry);
    return planned != nullptr && planned->move.kind == gcode::MoveKind::e_only;
  };
  auto const last = std::find_if(pending_.rbegin(), pending_.rend(), is_e_only);
  if (last == pending_.rend()) return;
  auto& planned = std::get<PlannedMove>(*last);
  if (planned.move.e_mm > 0 || planned.extrusion != ExtrusionPolicy::flow_right) return;
  planned.extrusion = ExtrusionPolicy::as_written;
  kept_e_.keep_last_retract();
  if (planned.move.bare_retract) go_the_way_of_its_retract(planned);
}

// Where the screw has its own time to draw back, the head travels dry.
void RetractPolicy::dry_travels() {
  bool const stops = std::ranges::any_of(pending_, [](Entry const& entry) {
    auto const* planned = std::get_if<PlannedMove>(&entry);
    return planned != nullptr && planned->extrusion == ExtrusionPolicy::free_stroke;
  });
  if (!stops) return;
  for (Entry& entry : pending_) {
    auto* planned = std::get_if<PlannedMove>(&entry);
    if (planned != nullptr && planned->move.kind == gcode::MoveKind::travel) planned->dry = true;
  }
}

}  // namespace meltlag::adapt
