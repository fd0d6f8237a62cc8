// SPDX-License-Identifier: MIT
#include "metrics_peaks.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::judge {
namespace {

constexpr std::size_t moves_in_a_row = 16;  // as many as an old board buffers
constexpr double speed_step_mm_s = 0.1;
constexpr double fed_enough = 0.001;  // of the printed volume: so much may be fed too slowly

}  // namespace

void Peaks::move(motion::TimedMove const& timed) {
  gcode::Move const& move = timed.move;
  double const duration = timed.speed.duration_s();
  double const e_per_mm = move.e_mm / timed.speed.length_mm;
  double const per_mm = move.volume_mm3 / timed.speed.length_mm;
  metrics_.peak_e_mm_s = std::max(metrics_.peak_e_mm_s, std::abs(e_per_mm) * timed.speed.peak_mm_s);
  double const flow = per_mm * factor_ * timed.speed.peak_mm_s;
  metrics_.peak_forward_mm3_s = std::max(metrics_.peak_forward_mm3_s, flow);
  if (move.kind == gcode::MoveKind::print) print(timed, flow);
  if (move.kind == gcode::MoveKind::e_only) metrics_.e_only_s += duration;
  ++metrics_.moves;
  starts_s_.push(timed.start_s);
  if (starts_s_.size() < moves_in_a_row) return;
  double const window = timed.start_s + duration - starts_s_.front();
  if (window > 0) {
    metrics_.peak_lines_per_s = std::max(metrics_.peak_lines_per_s, moves_in_a_row / window);
  }
  starts_s_.pop();
}

void Peaks::print(motion::TimedMove const& timed, double flow_mm3_s) {
  metrics_.peak_print_mm3_s = std::max(metrics_.peak_print_mm3_s, flow_mm3_s);
  printed_mm3_ += timed.move.volume_mm3;
  if (flow_mm3_s <= max_flow_mm3_s_) return;
  double const fed_mm_s = timed.speed.peak_mm_s * max_flow_mm3_s_ / flow_mm3_s;
  too_much_mm3_[static_cast<int>(fed_mm_s / speed_step_mm_s)] += timed.move.volume_mm3;
}

void Peaks::finish() {
  double below_mm3 = 0;
  for (auto const& [step, volume_mm3] : too_much_mm3_) {
    below_mm3 += volume_mm3;
    if (below_mm3 <= fed_enough * printed_mm3_) continue;
    metrics_.fed_speed_mm_s = std::max(1, step) * speed_step_mm_s;
    return;
  }
}

}  // namespace meltlag::judge
