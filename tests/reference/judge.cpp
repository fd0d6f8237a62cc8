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
constexpr double nothing_mm3 = 1e-9;
constexpr double border = 1e-9;  // cells this close to a cut are after it

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

template <typename Sink>
void phases(const Timed& t, Sink&& sink) {
  const double a = t.a_mm_s2;
  sink(t.v_in_mm_s, a, (t.v_in_mm_s + t.v_peak_mm_s) / 2 * t.accelerate_s, t.accelerate_s);
  sink(t.v_peak_mm_s, 0.0, t.v_peak_mm_s * t.cruise_s, t.cruise_s);
  sink(t.v_peak_mm_s, -a, (t.v_out_mm_s + t.v_peak_mm_s) / 2 * t.brake_s, t.brake_s);
}

class Runner {
 public:
  Runner(const Case& files,
         const Program& program,
         const Mapping& mapping,
         const std::vector<Timed>& timed,
         Verdict& out)
      : files_(files),
        emitted_(program),
        mapping_(mapping),
        timed_(timed),
        barrel_(files.plant),
        out_(out),
        cells_(make_cells(files.original)) {}

  void run() {
    std::size_t halt = 0;
    for (std::size_t j = 0; j <= emitted_.moves.size(); ++j) {
      for (; halt < emitted_.halts.size() && emitted_.halts[halt].before_move == j; ++halt) {
        stand(emitted_.halts[halt]);
      }
      if (j == emitted_.moves.size()) break;
      barrel_.set_temperature(emitted_.moves[j].set_c);
      const double starved = barrel_.screw().starved_mm3();
      if (emitted_.moves[j].kind == MoveKind::e_only) {
        turn(j);
      } else {
        travel(j);
      }
      note_starved(j, barrel_.screw().starved_mm3() - starved);
    }
    out_.run_on_max_mm3 = barrel_.largest_run_on_mm3();
    out_.run_on_end_mm3 = barrel_.run_on_mm3();
    out_.wound_back_end_mm3 = barrel_.screw().wound_back_mm3();
    out_.cell_table = std::move(cells_.table);
  }

 private:
  void note_starved(std::size_t j, double mm3) {
    if (mm3 < nothing_mm3) return;
    const Piece& piece = mapping_.pieces[j];
    const bool stays = piece.screw_line != no_move && files_.kept_e_mm[piece.screw_line] != 0;
    (stays ? out_.starved_kept_mm3 : out_.starved_mm3) += mm3;
    if (out_.starved_line == 0) out_.starved_line = emitted_.moves[j].line;
  }

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

  const Case& files_;
  const Program& emitted_;
  const Mapping& mapping_;
  const std::vector<Timed>& timed_;
  Barrel barrel_;
  Verdict& out_;
  Cells cells_;
  std::size_t next_ = 0;
};

Mapping on_itself(const Case& files) {
  const std::vector<Move>& moves = files.original.moves;
  Mapping mapping;
  mapping.original_purge = files.mapping.original_purge;
  for (std::size_t i = 0; i < moves.size(); ++i) {
    Piece piece;
    piece.move = i;
    if (moves[i].kind == MoveKind::e_only) {
      piece.purge = mapping.original_purge[i];
      piece.screw_line = i;
    }
    mapping.pieces.push_back(piece);
  }
  return mapping;
}

// Of a screw without limits, so that it can say what stays before they are known.
double largest_run_on(const Program& program, const Machine& machine, Plant plant) {
  plant.max_flow_mm3_s = plant.max_burst_mm3_s = std::numeric_limits<double>::infinity();
  const std::vector<Timed> timed = plan(program, machine, PlanMode::full);
  Barrel barrel(plant);
  std::size_t halt = 0;
  for (std::size_t i = 0; i < program.moves.size(); ++i) {
    for (; halt < program.halts.size() && program.halts[halt].before_move == i; ++halt) {
      barrel.set_temperature(program.halts[halt].set_c);
      barrel.advance(0, 0, program.halts[halt].seconds, 0);
      if (program.halts[halt].kind == HaltKind::wait) barrel.run_out();
    }
    barrel.set_temperature(program.moves[i].set_c);
    const double e_per_mm = program.moves[i].e_mm / timed[i].length_mm;
    phases(timed[i], [&](double v, double a, double, double seconds) {
      barrel.advance(v, a, seconds, e_per_mm);
    });
  }
  return barrel.largest_run_on_mm3();
}

bool has_retracts(const Program& program) {
  return std::any_of(program.moves.begin(), program.moves.end(), [](const Move& move) {
    return move.kind == MoveKind::e_only && move.e_mm < 0;
  });
}

void mark_travels(const Program& original, const Mapping& mapping, Program& emitted) {
  for (std::size_t j = 0; j < emitted.moves.size(); ++j) {
    const std::size_t i = mapping.pieces[j].move;
    if (emitted.moves[j].kind == MoveKind::e_only || i >= original.moves.size()) continue;
    if (original.moves[i].kind != MoveKind::print) emitted.moves[j].travels = true;
  }
}

}  // namespace

Case make_case(std::string_view original,
               std::string_view emitted,
               const Plant& plant,
               const Machine& machine,
               double path_mm) {
  Case files;
  files.plant = plant;
  files.original = read_program(original, machine, plant);
  files.emitted = read_program(emitted, machine, plant);
  files.mapping = map_moves(files.original, files.emitted, plant, path_mm);
  if (machine.travel_rule == TravelRule::all_travels) {
    mark_travels(files.original, files.mapping, files.emitted);
  }
  double largest =
      has_retracts(files.original) ? largest_run_on(files.original, machine, plant) : 0;
  // A screw that could feed far more may leave more run-on than this file ever does.
  if (plant.max_flow_mm3_s) {
    const double share = *plant.max_flow_mm3_s / plant.at_flow_mm3_s;
    largest = std::max(largest, plant.run_on_mm3 * std::pow(share, plant.flow_index));
  }
  files.kept_e_mm = find_kept_e(files.original, plant, largest);
  files.right = set_flow_right(files.original, files.kept_e_mm, plant.delivered_factor);
  if (!plant.max_flow_mm3_s) {
    files.plant.max_flow_mm3_s =
        steady_flow(files.original, plan(files.right, machine, PlanMode::full));
  }
  return files;
}

Verdict judge_column(const Case& files, const Machine& machine, Column column) {
  const bool adapted = column == Column::adapted;
  if (adapted) {
    for (const std::string& fault : files.mapping.faults) {
      if (fault.find("purge") == std::string::npos) throw std::runtime_error(fault);
    }
  }
  const Program& program = adapted                       ? files.emitted
                           : column == Column::as_sliced ? files.original
                                                         : files.right;
  const Mapping mapping = adapted ? files.mapping : on_itself(files);
  const std::vector<Timed> timed = plan(program, machine, PlanMode::full);
  Verdict v;
  v.moves = program.moves.size();
  v.max_flow_mm3_s = files.plant.max_flow_mm3_s.value();
  v.planned_s = total_time_s(timed, program);
  v.path_only_s = total_time_s(plan(program, machine, PlanMode::path_only), program);
  const Program& before = files.original;
  v.original_planned_s = total_time_s(plan(before, machine, PlanMode::full), before);
  v.original_path_only_s = total_time_s(plan(before, machine, PlanMode::path_only), before);
  Runner(files, program, mapping, timed, v).run();
  fill_figures(program, timed, files.plant, v);
  return v;
}

Verdict judge(std::string_view original,
              std::string_view emitted,
              const Plant& plant,
              const Machine& machine) {
  return judge_column(make_case(original, emitted, plant, machine), machine, Column::adapted);
}

}  // namespace meltlag_reference
