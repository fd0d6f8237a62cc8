// SPDX-License-Identifier: MIT
// The one figure: what leaves the nozzle in each cell of the original path against what it asked.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double cell_mm = 0.5;
constexpr double near_stop_mm = 2.0;
constexpr double border = 1e-9;  // cells this close to a cut are behind it

struct Cells {
  std::vector<Cell> table;
  std::vector<std::size_t> first;  // of each original move; e_only moves: of the next cell
  std::vector<std::size_t> count;
};

Cells make_cells(const Program& original) {
  Cells cells;
  std::size_t halt = 0;
  bool broken = true;
  for (std::size_t i = 0; i < original.moves.size(); ++i) {
    const Move& move = original.moves[i];
    while (halt < original.halts.size() && original.halts[halt].before_move <= i) {
      broken = true;
      ++halt;
    }
    cells.first.push_back(cells.table.size());
    cells.count.push_back(0);
    const bool prints = move.kind == MoveKind::print;
    if (move.kind != MoveKind::e_only) {
      const double n = prints ? std::clamp(std::round(move.length_mm / cell_mm), 1.0, 4096.0) : 1;
      cells.count.back() = static_cast<std::size_t>(n);
      const double wanted = prints ? move.volume_mm3 / n : 0;
      const Cell cell{i, prints, false, move.length_mm / n, wanted, 0};
      cells.table.insert(cells.table.end(), cells.count.back(), cell);
      cells.table[cells.first.back()].starts_run = prints && broken;
    }
    broken = !prints;
  }
  cells.first.push_back(cells.table.size());
  return cells;
}

// Time to go `way` further from speed v at acceleration a.
double time_for(double v, double a, double way) {
  const double end = std::sqrt(std::max(0.0, v * v + 2 * a * way));
  return v + end > 0 ? 2 * way / (v + end) : 0;
}

class Runner {
 public:
  Runner(const Program& original,
         const Program& emitted,
         const Mapping& mapping,
         const std::vector<Timed>& timed,
         const Plant& plant,
         Verdict& out)
      : emitted_(emitted),
        mapping_(mapping),
        timed_(timed),
        barrel_(plant),
        out_(out),
        cells_(make_cells(original)) {}

  void run() {
    std::size_t halt = 0;
    for (std::size_t j = 0; j <= emitted_.moves.size(); ++j) {
      for (; halt < emitted_.halts.size() && emitted_.halts[halt].before_move == j; ++halt) {
        stand(emitted_.halts[halt]);
      }
      if (j == emitted_.moves.size()) break;
      barrel_.set_temperature(emitted_.moves[j].set_c);
      if (emitted_.moves[j].kind == MoveKind::e_only) {
        turn(j);
      } else {
        travel(j);
      }
    }
    out_.run_on_max_mm3 = barrel_.largest_run_on_mm3();
    out_.run_on_end_mm3 = barrel_.run_on_mm3();
    out_.cell_table = std::move(cells_.table);
  }

 private:
  // What leaves at standstill in front of cell `next`.
  void lay_at_standstill(double mm3) {
    std::vector<Cell>& table = cells_.table;
    if (next_ < table.size() && table[next_].prints) {
      table[next_].got_mm3 += mm3;
    } else if (next_ > 0 && table[next_ - 1].prints) {
      table[next_ - 1].got_mm3 += mm3;
    } else if (next_ < table.size()) {
      table[next_].got_mm3 += mm3;
    } else {
      out_.uncounted_mm3 += mm3;
    }
  }

  void stand(const Halt& halt) {
    barrel_.set_temperature(halt.set_c);
    if (halt.kind == HaltKind::dwell) lay_at_standstill(barrel_.advance(0, 0, halt.seconds, 0));
    if (halt.kind == HaltKind::wait) out_.uncounted_mm3 += barrel_.run_out();
  }

  template <typename Sink>
  void phases(const Timed& t, Sink&& sink) {
    const double a = t.a_mm_s2;
    sink(t.v_in_mm_s, a, (t.v_in_mm_s + t.v_peak_mm_s) / 2 * t.accelerate_s, t.accelerate_s);
    sink(t.v_peak_mm_s, 0.0, t.v_peak_mm_s * t.cruise_s, t.cruise_s);
    sink(t.v_peak_mm_s, -a, (t.v_out_mm_s + t.v_peak_mm_s) / 2 * t.brake_s, t.brake_s);
  }

  void turn(std::size_t j) {
    const double sign = emitted_.moves[j].e_mm > 0 ? 1 : -1;
    phases(timed_[j], [&](double v, double a, double, double seconds) {
      const double mm3 = barrel_.advance(v, a, seconds, sign);
      if (mapping_.pieces[j].purge) {
        out_.uncounted_mm3 += mm3;
      } else {
        lay_at_standstill(mm3);
      }
    });
  }

  // Splits each phase at the cell borders that lie in this piece.
  void travel(std::size_t j) {
    const Piece& piece = mapping_.pieces[j];
    const Move& move = emitted_.moves[j];
    const double n = static_cast<double>(cells_.count[piece.move]);
    const double share = piece.to - piece.from;
    const double e_per_mm = move.e_mm / move.length_mm;
    double at = 0;  // mm of this emitted move
    std::size_t cell = static_cast<std::size_t>(std::min(n - 1, piece.from * n + border));
    const std::size_t first = cells_.first[piece.move];
    const auto end_of = [&](std::size_t k) {
      const double f = (static_cast<double>(k) + 1) / n;
      if (share <= 0 || f >= piece.to - border) return move.length_mm * 2;
      return (f - piece.from) / share * move.length_mm;
    };
    phases(timed_[j], [&](double v, double a, double way, double seconds) {
      double left = way, time_left = seconds;
      while (at + left > end_of(cell)) {
        const double step = std::max(0.0, end_of(cell) - at);
        const double dt = std::min(time_left, time_for(v, a, step));
        cells_.table[first + cell].got_mm3 += barrel_.advance(v, a, dt, e_per_mm);
        v = std::max(0.0, v + a * dt);
        left -= step;
        time_left -= dt;
        at += step;
        ++cell;
      }
      cells_.table[first + cell].got_mm3 += barrel_.advance(v, a, time_left, e_per_mm);
      at += left;
    });
    next_ = first + static_cast<std::size_t>(std::min(n, piece.to * n + border));
  }

  const Program& emitted_;
  const Mapping& mapping_;
  const std::vector<Timed>& timed_;
  Barrel barrel_;
  Verdict& out_;
  Cells cells_;
  std::size_t next_ = 0;
};

void figure(Verdict& v) {
  double off = 0, squares = 0;
  std::size_t printing = 0;
  for (const Cell& cell : v.cell_table) {
    off += std::abs(cell.got_mm3 - cell.wanted_mm3);
    v.wanted_mm3 += cell.wanted_mm3;
    v.got_on_path_mm3 += cell.got_mm3;
    if (!cell.prints || cell.wanted_mm3 <= 0) continue;
    const double error = cell.got_mm3 / cell.wanted_mm3 - 1;
    squares += error * error;
    ++printing;
  }
  v.cells = v.cell_table.size();
  if (v.wanted_mm3 > 0) v.misplaced_percent = 100 * off / v.wanted_mm3;
  if (printing > 0) v.bead_error_percent = 100 * std::sqrt(squares / static_cast<double>(printing));
}

// Excess on the last 2 mm before a stop.
double knob_before(const std::vector<Cell>& cells, std::size_t end) {
  double excess = 0, way = 0;
  for (std::size_t k = end; k-- > 0 && way < near_stop_mm;) {
    if (!cells[k].prints) break;
    excess += cells[k].got_mm3 - cells[k].wanted_mm3;
    way += cells[k].length_mm;
    if (cells[k].starts_run) break;
  }
  return excess;
}

double gap_after(const std::vector<Cell>& cells, std::size_t start) {
  double way = 0;
  for (std::size_t k = start; k < cells.size() && cells[k].prints; ++k) {
    if (k > start && cells[k].starts_run) break;
    if (cells[k].got_mm3 >= cells[k].wanted_mm3 / 2) break;
    way += cells[k].length_mm;
  }
  return way;
}

void knobs_and_gaps(Verdict& v) {
  const std::vector<Cell>& cells = v.cell_table;
  double knob_sum = 0, gap_sum = 0;
  for (std::size_t k = 0; k < cells.size(); ++k) {
    if (cells[k].starts_run) {
      const double gap = gap_after(cells, k);
      ++v.starts;
      v.gaps += gap > 0 ? 1 : 0;
      gap_sum += gap;
      v.gap_largest_mm = std::max(v.gap_largest_mm, gap);
    }
    const bool last = k + 1 == cells.size() || !cells[k + 1].prints || cells[k + 1].starts_run;
    const double knob = cells[k].prints && last ? knob_before(cells, k + 1) : 0;
    if (knob <= 0) continue;
    ++v.knobs;
    knob_sum += knob;
    v.knob_largest_mm3 = std::max(v.knob_largest_mm3, knob);
  }
  if (v.knobs > 0) v.knob_mean_mm3 = knob_sum / static_cast<double>(v.knobs);
  if (v.gaps > 0) v.gap_mean_mm = gap_sum / static_cast<double>(v.gaps);
  v.knob_largest_ball_mm = std::cbrt(6 * v.knob_largest_mm3 / std::numbers::pi);
}

void screw_peaks(const Program& program,
                 const std::vector<Timed>& timed,
                 const Plant& plant,
                 Verdict& v) {
  double last_r = 0, last_v = 0;
  for (std::size_t j = 0; j < program.moves.size(); ++j) {
    const Move& move = program.moves[j];
    const double path = timed[j].length_mm;
    const double r = move.e_mm / path;
    const double speed = std::abs(r) * timed[j].v_peak_mm_s;
    v.peak_e_speed_mm_s = std::max(v.peak_e_speed_mm_s, speed);
    if (r > 0) {
      v.peak_flow_mm3_s =
          std::max(v.peak_flow_mm3_s, speed * plant.area_mm2() * plant.delivered_factor);
    }
    v.largest_e_acceleration_mm_s2 =
        std::max(v.largest_e_acceleration_mm_s2, std::abs(r) * timed[j].a_mm_s2);
    const double at = std::min(last_v, timed[j].v_in_mm_s);
    v.largest_e_jump_mm_s = std::max(v.largest_e_jump_mm_s, std::abs(r - last_r) * at);
    last_r = r;
    last_v = timed[j].v_out_mm_s;
  }
}

}  // namespace

Verdict judge(std::string_view original_text,
              std::string_view emitted_text,
              const Plant& plant,
              const Machine& machine) {
  const Program original = read_program(original_text, machine, plant);
  const Program emitted = read_program(emitted_text, machine, plant);
  const Mapping mapping = map_moves(original, emitted, plant);
  for (const std::string& fault : mapping.faults) {
    if (fault.find("purge") == std::string::npos) throw std::runtime_error(fault);
  }
  const std::vector<Timed> timed = plan(emitted, machine, PlanMode::full);
  Verdict v;
  v.moves = emitted.moves.size();
  v.planned_s = total_time_s(timed, emitted);
  v.path_only_s = total_time_s(plan(emitted, machine, PlanMode::path_only), emitted);
  v.original_planned_s = total_time_s(plan(original, machine, PlanMode::full), original);
  v.original_path_only_s = total_time_s(plan(original, machine, PlanMode::path_only), original);
  Runner(original, emitted, mapping, timed, plant, v).run();
  figure(v);
  knobs_and_gaps(v);
  screw_peaks(emitted, timed, plant, v);
  return v;
}

}  // namespace meltlag_reference
