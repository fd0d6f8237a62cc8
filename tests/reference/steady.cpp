// SPDX-License-Identifier: MIT
// What the beads ask for over a second, at most: what a screw must feed for long.
#include <algorithm>
#include <cmath>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double window_s = 1;

// Flow over planned time in linear pieces, and its integral.
class Asked {
 public:
  Asked(const Program& original, const std::vector<Timed>& timed) {
    std::size_t halt = 0;
    for (std::size_t i = 0; i <= original.moves.size(); ++i) {
      for (; halt < original.halts.size() && original.halts[halt].before_move == i; ++halt) {
        add(0, 0, original.halts[halt].seconds);
      }
      if (i == original.moves.size()) break;
      const Move& move = original.moves[i];
      const Timed& t = timed[i];
      const double per_mm = move.kind == MoveKind::print ? move.volume_mm3 / move.length_mm : 0;
      add(per_mm * t.v_in_mm_s, per_mm * t.v_peak_mm_s, t.accelerate_s);
      add(per_mm * t.v_peak_mm_s, per_mm * t.v_peak_mm_s, t.cruise_s);
      add(per_mm * t.v_peak_mm_s, per_mm * t.v_out_mm_s, t.brake_s);
    }
  }

  double greatest_mean() {
    std::vector<double> places{0};
    for (const Piece& piece : pieces_) {
      places.push_back(piece.from_s);
      places.push_back(piece.from_s + piece.seconds);
      places.push_back(piece.from_s - window_s);
      places.push_back(piece.from_s + piece.seconds - window_s);
    }
    std::sort(places.begin(), places.end());
    double most = 0;
    for (std::size_t k = 0; k < places.size(); ++k) {
      most = std::max(most, window(places[k]));
      if (k + 1 < places.size()) most = std::max(most, between(places[k], places[k + 1]));
    }
    return most / window_s;
  }

 private:
  struct Piece {
    double from_s, seconds, flow, slope, before_mm3;
  };

  void add(double from, double to, double seconds) {
    if (seconds <= 0) return;
    pieces_.push_back({end_s_, seconds, from, (to - from) / seconds, total_mm3_});
    total_mm3_ += (from + to) / 2 * seconds;
    end_s_ += seconds;
  }

  const Piece* find(double at_s) const {
    if (pieces_.empty() || at_s < 0 || at_s >= end_s_) return nullptr;
    auto it = std::upper_bound(pieces_.begin(), pieces_.end(), at_s, [](double t, const Piece& p) {
      return t < p.from_s;
    });
    return &*std::prev(it);
  }

  double flow(double at_s) const {
    const Piece* piece = find(at_s);
    return piece == nullptr ? 0 : piece->flow + piece->slope * (at_s - piece->from_s);
  }

  double until(double at_s) const {
    if (at_s >= end_s_) return total_mm3_;
    const Piece* piece = find(at_s);
    if (piece == nullptr) return 0;
    const double t = at_s - piece->from_s;
    return piece->before_mm3 + piece->flow * t + piece->slope * t * t / 2;
  }

  double window(double from_s) const { return until(from_s + window_s) - until(from_s); }

  // The window grows while more comes in at its front than leaves at its back; both are linear
  // here.
  double between(double low, double high) const {
    const double third = (high - low) / 3;
    if (third <= 0) return 0;
    const auto grows = [&](double s) { return flow(s + window_s) - flow(s); };
    const double a = grows(low + third), b = grows(high - third);
    const double at_low = 2 * a - b, at_high = 2 * b - a;
    if (at_low <= 0 || at_high >= 0) return 0;
    return window(low + (high - low) * at_low / (at_low - at_high));
  }

  std::vector<Piece> pieces_;
  double end_s_ = 0, total_mm3_ = 0;
};

}  // namespace

double steady_flow(const Program& original, const std::vector<Timed>& timed) {
  return Asked(original, timed).greatest_mean();
}

}  // namespace meltlag_reference
