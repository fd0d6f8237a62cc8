// SPDX-License-Identifier: MIT
// A file judged on a hidden machine that knows more than the lag law.
#include <algorithm>
#include <cmath>

#include "measure.hpp"

namespace meltlag_reference {
namespace {

constexpr double cell_mm = 0.5;
constexpr double border = 1e-9;  // of a move

struct JudgedCell {
  bool prints = false;
  double wanted_mm3 = 0, got_mm3 = 0;
};

struct JudgedCells {
  std::vector<JudgedCell> table;
  std::vector<std::size_t> first, count;  // one for each move of the original
};

JudgedCells cells_of(const Program& original) {
  JudgedCells cells;
  for (const Move& move : original.moves) {
    cells.first.push_back(cells.table.size());
    const bool prints = move.kind == MoveKind::print;
    double n = move.kind == MoveKind::e_only ? 0 : 1;
    if (prints) n = std::clamp(std::round(move.length_mm / cell_mm), 1.0, 4096.0);
    cells.count.push_back(static_cast<std::size_t>(n));
    const JudgedCell cell{prints, prints ? move.volume_mm3 / n : 0, 0};
    cells.table.insert(cells.table.end(), cells.count.back(), cell);
  }
  return cells;
}

HeadMotion motion_of(const Program& program, const Machine& machine) {
  HeadMotion motion;
  motion.program = program;
  motion.timed = plan(program, machine, PlanMode::full);
  double way = 0;
  for (const Move& move : program.moves) {
    motion.way_mm.push_back(way);
    way += move.length_mm;
  }
  return motion;
}

class Layer {
 public:
  Layer(const Case& files, const HeadMotion& motion, const Print& print)
      : files_(files), motion_(motion), print_(print), cells_(cells_of(files.original)) {}

  double misplaced_share(const Mapping* mapping) {
    for (std::size_t j = 0; j < motion_.program.moves.size(); ++j) {
      Piece piece;
      piece.move = j;
      piece.purge = files_.mapping.original_purge[std::min(j, files_.original.moves.size() - 1)];
      if (mapping != nullptr) piece = mapping->pieces[j];
      if (motion_.program.moves[j].kind == MoveKind::e_only)
        turn(j, piece);
      else
        go(j, piece);
    }
    double wanted = 0, off = 0;
    for (const JudgedCell& cell : cells_.table) {
      wanted += cell.wanted_mm3;
      off += std::abs(cell.got_mm3 - cell.wanted_mm3);
    }
    return off / wanted;
  }

 private:
  double volume_at_start(std::size_t j) const { return print_.out_mm3[print_.starts[j]]; }

  // A purge's own outflow, and what follows it at rest, lies outside of the figure.
  void turn(std::size_t j, const Piece& piece) {
    if (piece.purge && j + 1 < print_.starts.size())
      uncounted_ += volume_at_start(j + 1) - volume_at_start(j);
  }

  void lay_at_standstill(double mm3, std::size_t next) {
    const bool backwards = !cells_.table[next].prints && next > 0 && cells_.table[next - 1].prints;
    cells_.table[backwards ? next - 1 : next].got_mm3 += mm3;
  }

  void go(std::size_t j, const Piece& piece) {
    const auto n = static_cast<double>(cells_.count[piece.move]);
    const std::size_t first = cells_.first[piece.move];
    auto cell = static_cast<std::size_t>(std::min(n - 1, piece.from * n + border));
    double volume = volume_at_start(j);
    lay_at_standstill(volume - end_ - uncounted_, first + cell);
    uncounted_ = 0;
    const double share = piece.to - piece.from, length = motion_.program.moves[j].length_mm;
    while ((static_cast<double>(cell) + 1) / n < piece.to - border) {
      const double part = ((static_cast<double>(cell) + 1) / n - piece.from) / share;
      const double here = print_.until(motion_.way_mm[j] + part * length);
      cells_.table[first + cell].got_mm3 += here - volume;
      volume = here;
      ++cell;
    }
    end_ = print_.until(motion_.way_mm[j] + length);
    cells_.table[first + cell].got_mm3 += end_ - volume;
  }

  const Case& files_;
  const HeadMotion& motion_;
  const Print& print_;
  JudgedCells cells_;
  double end_ = 0;  // out of the nozzle at the end of the last head move
  double uncounted_ = 0;
};

}  // namespace

double misplaced_share(const Case& files,
                       const Machine& machine,
                       Column column,
                       const HiddenMachine& hidden) {
  const bool adapted = column == Column::adapted;
  const Program& program = adapted                       ? files.emitted
                           : column == Column::as_sliced ? files.original
                                                         : files.right;
  const HeadMotion motion = motion_of(program, machine);
  const Print print = simulate_print(motion, hidden);
  return Layer(files, motion, print).misplaced_share(adapted ? &files.mapping : nullptr);
}

}  // namespace meltlag_reference
