// SPDX-License-Identifier: MIT
// Which piece of which original move an emitted move is; which E-only moves are purge.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double same_e_mm = 1e-6;
constexpr double last_digit_mm = 2e-5;  // E is divided, rounded to 5 decimals, the rest carried
constexpr double restart_extra_mm3 = 1.0;
constexpr double restart_extra_share = 0.05;

double distance(const Point& a, const Point& b) {
  return std::hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
}

bool on_head(const Move& move) { return move.kind != MoveKind::e_only; }

// Fraction of the original's path nearest to a point, not before `from`.
double project(const Move& move, const Point& p, double from) {
  double f = 0;
  if (!move.arc) {
    double dot = 0, square = 0;
    for (std::size_t k = 0; k < 3; ++k) {
      const double d = move.end_mm[k] - move.start_mm[k];
      dot += d * (p[k] - move.start_mm[k]);
      square += d * d;
    }
    f = dot / square;
  } else {
    const Arc& arc = *move.arc;
    const double angle = std::atan2(p[1] - arc.centre_y_mm, p[0] - arc.centre_x_mm);
    double turned = (angle - arc.start_angle) * (arc.sweep > 0 ? 1 : -1);
    const double slack = 0.01 / std::max(arc.start_radius_mm, 0.01);
    const double least = from * std::abs(arc.sweep) - slack;
    while (turned < least) turned += 2 * pi;
    while (turned >= least + 2 * pi) turned -= 2 * pi;
    f = turned / std::abs(arc.sweep);
  }
  return std::clamp(f, from, 1.0);
}

// Worst distance between an emitted move and its piece of the original, sampled.
double apart(const Move& original, const Move& emitted, double from, double to) {
  double worst = 0;
  const int samples = original.arc || emitted.arc ? 16 : 1;
  for (int k = 1; k <= samples; ++k) {
    const double part = static_cast<double>(k) / samples;
    const Point p = emitted.at(part);
    const double f = k == samples ? to : project(original, p, from);
    worst = std::max(worst, distance(p, original.at(std::min(f, to))));
  }
  return worst;
}

std::vector<std::size_t> head_moves(const Program& program) {
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < program.moves.size(); ++i) {
    if (on_head(program.moves[i])) out.push_back(i);
  }
  return out;
}

class Mapper {
 public:
  Mapper(const Program& original, const Program& emitted, const Plant& plant, double path_mm)
      : original_(original),
        emitted_(emitted),
        factor_(plant.delivered_factor),
        path_mm_(path_mm),
        heads_(head_moves(original)),
        emitted_heads_(head_moves(emitted)) {
    out_.original_purge = find_purges(original, plant);
    out_.pieces.resize(emitted.moves.size());
  }

  Mapping run() {
    std::size_t head = 0;  // index into emitted_heads_
    for (std::size_t j = 0; j < emitted_.moves.size() && out_.faults.size() < 20; ++j) {
      if (on_head(emitted_.moves[j])) {
        place_head(j, head++);
      } else {
        place_screw(j);
      }
    }
    finish();
    return std::move(out_);
  }

 private:
  void fault(const Move& move, const std::string& what) {
    out_.faults.push_back("line " + std::to_string(move.line) + ": " + what);
  }

  // Does the emitted move end the original one? Very short last cuts need a look at the next.
  bool ends(std::size_t head, const Move& original, const Move& emitted) const {
    const double off = distance(emitted.end_mm, original.end_mm);
    if (off > path_mm_) return false;
    if (original.arc && std::abs(original.arc->sweep) > pi &&
        done_ * original.length_mm + emitted.length_mm < original.length_mm / 2) {
      return false;  // just left the start of a full turn
    }
    if (off < 1e-7 || head + 1 >= emitted_heads_.size()) return true;
    const Move& next = emitted_.moves[emitted_heads_[head + 1]];
    const bool closer = distance(next.end_mm, original.end_mm) < off;
    const bool tiny = next.length_mm <= 2 * path_mm_;
    const bool theirs = at_ + 1 < heads_.size() &&
                        distance(next.end_mm, original_.moves[heads_[at_ + 1]].end_mm) < 1e-7;
    return !(closer && tiny && !theirs);
  }

  void place_head(std::size_t j, std::size_t head) {
    const Move& move = emitted_.moves[j];
    Piece& piece = out_.pieces[j];
    if (at_ >= heads_.size()) {
      piece.move = original_.moves.size();
      return fault(move, "the head moves on after the end of the original path");
    }
    skip_to(heads_[at_]);
    const Move& wanted = original_.moves[heads_[at_]];
    piece.move = heads_[at_];
    piece.from = done_;
    const bool last = ends(head, wanted, move);
    piece.to = last ? 1 : project(wanted, move.end_mm, done_);
    piece.off_mm = apart(wanted, move, piece.from, piece.to);
    if (piece.off_mm > path_mm_) {
      fault(move,
            "the head is " + std::to_string(piece.off_mm) + " mm off the original's line " +
                std::to_string(wanted.line));
    }
    const bool whole =
        last && piece.from == 0 && std::abs(move.feed_mm_s - wanted.feed_mm_s) < 1e-9;
    piece.kept = whole && same_e(wanted, wanted.e_mm, move, same_e_mm);
    piece.right = whole && same_e(wanted, wanted.e_mm / factor_, move, last_digit_mm);
    done_ = last ? 0 : piece.to;
    if (last) ++at_;
  }

  // A small bead's E is written as finely as it asks for: to a thousandth at each end, and no
  // finer than 9 decimals.
  static bool same_e(const Move& wanted, double e_mm, const Move& move, double most_mm) {
    if (wanted.kind == MoveKind::print) most_mm = std::min(most_mm, 2e-3 * std::abs(e_mm) + 2e-9);
    return std::abs(move.e_mm - e_mm) <= most_mm;
  }

  // E-only moves of the original in front of the next head move.
  void skip_to(std::size_t original_move) { screw_at_ = std::max(screw_at_, original_move); }

  void place_screw(std::size_t j) {
    const Move& move = emitted_.moves[j];
    Piece& piece = out_.pieces[j];
    const std::size_t next = at_ < heads_.size() ? heads_[at_] : original_.moves.size();
    piece.move = next;
    piece.from = piece.to = done_;
    if (done_ > 0) return;
    if (at_ > 0) skip_to(heads_[at_ - 1] + 1);
    for (std::size_t i = screw_at_; i < next; ++i) {
      const Move& wanted = original_.moves[i];
      if (std::abs(move.e_mm - wanted.e_mm) > same_e_mm) continue;
      piece.kept = std::abs(move.feed_mm_s - wanted.feed_mm_s) < 1e-9;
      piece.purge = out_.original_purge[i];
      piece.screw_line = i;
      if (piece.purge) ++purges_;
      screw_at_ = i + 1;
      return;
    }
  }

  void finish() {
    if (at_ < heads_.size()) {
      out_.faults.push_back("the original path goes on: its line " +
                            std::to_string(original_.moves[heads_[at_]].line) + " is not reached");
    }
    const auto wanted = std::count(out_.original_purge.begin(), out_.original_purge.end(), true);
    if (purges_ < wanted) {
      out_.faults.push_back(std::to_string(wanted - purges_) + " of " + std::to_string(wanted) +
                            " purge moves are not kept");
    }
  }

  const Program& original_;
  const Program& emitted_;
  double factor_, path_mm_;
  std::vector<std::size_t> heads_, emitted_heads_;
  std::size_t at_ = 0;        // index into heads_
  double done_ = 0;           // fraction of the present original move
  std::size_t screw_at_ = 0;  // next original move that an E-only one may be
  std::ptrdiff_t purges_ = 0;
  Mapping out_;
};

}  // namespace

std::vector<bool> find_purges(const Program& original, const Plant& plant) {
  std::vector<bool> purge(original.moves.size(), false);
  double debt = 0;  // mm of E
  for (std::size_t i = 0; i < original.moves.size(); ++i) {
    const Move& move = original.moves[i];
    if (move.e_mm < 0) debt -= move.e_mm;
    if (move.kind != MoveKind::e_only || move.e_mm <= 0) continue;
    const double repaid = std::min(debt, move.e_mm);
    debt -= repaid;
    const double excess = (move.e_mm - repaid) * plant.area_mm2();
    const double allowed =
        std::max(restart_extra_mm3, restart_extra_share * repaid * plant.area_mm2());
    purge[i] = excess > allowed;
  }
  return purge;
}

Mapping map_moves(const Program& original,
                  const Program& emitted,
                  const Plant& plant,
                  double path_mm) {
  return Mapper(original, emitted, plant, path_mm).run();
}

}  // namespace meltlag_reference
