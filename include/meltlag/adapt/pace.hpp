// SPDX-License-Identifier: MIT
// Print time against misplaced plastic: finding the price of a second at which the time granted is
// spent, or the figure wanted is met.
//
// A pass with a price schedules the whole file and slows the head wherever a second saves at least
// so much misplaced plastic. One price for the whole file is what makes the spending best, and what
// lets the file be scheduled window by window.
#pragma once

#include <string>
#include <vector>

#include "meltlag/adapt/adapt.hpp"

namespace meltlag::adapt {

// One pass.
struct TradePoint {
  double price_mm3_per_s = 0;
  AdaptInfo info;
  // Both as scheduled; the judged figures differ a little.
  [[nodiscard]] double misplaced_share() const {
    return info.wanted_mm3 > 0 ? info.misplaced_mm3 / info.wanted_mm3 : 0;
  }
};

// Passes over one file, two at a time. Which prices are tried hangs on the file alone.
class TradeCurve {
 public:
  // `options` says all but the price.
  TradeCurve(std::string path, AdaptOptions options);

  // The pass without pace.
  [[nodiscard]] TradePoint const& unpaced() const { return points_.front(); }
  // Time of a pass beyond that, as a share of it.
  [[nodiscard]] double extra_share(TradePoint const& point) const;

  // The best pass found that takes at most `extra` more. It spends at least `closeness` of that,
  // unless more time buys nothing.
  TradePoint within(double extra, double closeness = 0.97);
  // The best of the passes made so far.
  [[nodiscard]] TradePoint const& best_within(double extra) const;
  // The quickest pass found that misplaces at most `share`, else the one that misplaces least.
  TradePoint reaching(double share);

 private:
  void evaluate(std::vector<double> const& prices);
  void start();
  bool evaluate_cheaper();

  std::string path_;
  AdaptOptions options_;
  double mean_flow_mm3_s_ = 0;
  std::vector<TradePoint> points_;  // from the dearest price on, the unpaced one first
};

}  // namespace meltlag::adapt
