// SPDX-License-Identifier: MIT
// The file with its flow set right: what stays as written, everything else divided.
#include <algorithm>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double unload_run_ons = 3;

// Retracts that stay as written, and what gives them again.
class Unloads {
 public:
  Unloads(const Program& original, const Plant& plant, double largest_run_on_mm3)
      : original_(original),
        purge_(find_purges(original, plant)),
        unload_mm_(unload_run_ons * largest_run_on_mm3 /
                   (plant.area_mm2() * plant.delivered_factor)),
        kept_(original.moves.size(), 0.0) {}

  std::vector<double> run() {
    find_retracts();
    find_recoveries();
    return std::move(kept_);
  }

 private:
  void keep(std::size_t i) { kept_[i] = original_.moves[i].e_mm; }

  // At a wait, a tool change and the end.
  void end_stretch() {
    if (last_ != no_move) keep(last_);
  }

  void find_retracts() {
    std::size_t halt = 0;
    for (std::size_t i = 0; i <= original_.moves.size(); ++i) {
      for (; halt < original_.halts.size() && original_.halts[halt].before_move == i; ++halt) {
        const Halt& h = original_.halts[halt];
        if (h.kind == HaltKind::wait || h.tool_change) end_stretch();
      }
      if (i < original_.moves.size()) look_at(i);
    }
    end_stretch();
  }

  void look_at(std::size_t i) {
    const Move& move = original_.moves[i];
    if (move.unset_amount || purge_[i]) keep(i);
    if (move.kind == MoveKind::print) last_ = no_move;
    if (move.kind != MoveKind::e_only) return;
    if (move.e_mm < 0) {
      open_.push_back(i);
      last_ = i;
      owed_mm_ -= move.e_mm;
      if (-move.e_mm > unload_mm_) keep(i);
      return;
    }
    last_ = no_move;
    owed_mm_ -= move.e_mm;
    if (purge_[i]) {
      for (const std::size_t k : open_) keep(k);
    }
    if (owed_mm_ <= 0) {
      owed_mm_ = 0;
      open_.clear();
    }
  }

  // The latest retract is given again first.
  void find_recoveries() {
    struct Owed {
      double mm;
      bool kept;
    };
    std::vector<Owed> owed;
    for (std::size_t i = 0; i < original_.moves.size(); ++i) {
      const Move& move = original_.moves[i];
      if (move.e_mm < 0) owed.push_back({-move.e_mm, kept_[i] != 0});
      if (move.kind != MoveKind::e_only || move.e_mm <= 0) continue;
      double left = move.e_mm, of_kept = 0;
      while (left > 0 && !owed.empty()) {
        const double part = std::min(left, owed.back().mm);
        if (owed.back().kept) of_kept += part;
        left -= part;
        owed.back().mm -= part;
        if (owed.back().mm <= 0) owed.pop_back();
      }
      if (kept_[i] == 0) kept_[i] = of_kept;
    }
  }

  const Program& original_;
  std::vector<bool> purge_;
  double unload_mm_;
  std::vector<double> kept_;
  std::size_t last_ = no_move;     // last retract since the last bead or recovery
  std::vector<std::size_t> open_;  // retracts not given again
  double owed_mm_ = 0;
};

}  // namespace

std::vector<double> find_kept_e(const Program& original,
                                const Plant& plant,
                                double largest_run_on_mm3) {
  return Unloads(original, plant, largest_run_on_mm3).run();
}

Program set_flow_right(const Program& original,
                       const std::vector<double>& kept_e_mm,
                       double delivered_factor) {
  Program right;
  right.moves = original.moves;
  right.halts = original.halts;
  for (std::size_t i = 0; i < right.moves.size(); ++i) {
    Move& move = right.moves[i];
    if (move.e_mm == 0) continue;
    const double e = kept_e_mm[i] + (move.e_mm - kept_e_mm[i]) / delivered_factor;
    move.volume_mm3 *= e / move.e_mm;
    move.e_mm = e;
  }
  return right;
}

}  // namespace meltlag_reference
