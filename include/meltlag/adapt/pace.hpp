// SPDX-License-Identifier: MIT
// Print time against misplaced plastic: finding the price of a second at which the time granted is
// spent, or the figure wanted is met.
//
// A pass with a price schedules the whole file and slows the head wherever a second saves at least
// so much misplaced plastic. One price for the whole file is what makes the spending best, and what
// lets the file be scheduled window by window.
#pragma once

#include <functional>
#include <memory>
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

class PriceEstimate;

// Passes over one file, two at a time. Which prices are tried hangs on the file alone: they are
// found on a sample of its windows first.
class TradeCurve {
 public:
  // Schedules the whole file with a price. May be called from two threads at once.
  using Pass = std::function<AdaptInfo(double price_mm3_per_s)>;

  // `options` says all but the price. Without a pass of one's own the text goes nowhere.
  TradeCurve(std::string path, AdaptOptions options, Pass pass = {});
  ~TradeCurve();

  // The pass without pace.
  [[nodiscard]] TradePoint const& unpaced() const { return points_.front(); }
  // Time of a pass beyond that, as a share of it.
  [[nodiscard]] double extra_share(TradePoint const& point) const;

  // Finds a pass for each grant that takes at most so much more, and spends at least `closeness` of
  // it, somewhat less where that is hard to find, unless more time buys nothing.
  void spend(std::vector<double> const& grants, double closeness);
  // The best pass that takes at most `extra` more, after such a search.
  TradePoint within(double extra, double closeness = 0.97);
  // The best of the passes made so far.
  [[nodiscard]] TradePoint const& best_within(double extra) const;
  // The quickest pass found that misplaces at most `share`, else the one that misplaces least.
  TradePoint reaching(double share);

 private:
  std::vector<AdaptInfo> evaluate(std::vector<double> const& prices);
  PriceEstimate& estimate();
  [[nodiscard]] TradePoint const* nearest(double price) const;
  [[nodiscard]] bool known(double price) const;
  std::vector<double> next_prices(double grant, double closeness, int round);
  double price_spending(double extra);
  double price_reaching(double share);
  [[nodiscard]] TradePoint best_for(double share) const;

  std::string path_;
  AdaptOptions options_;
  Pass pass_;
  double mean_flow_mm3_s_ = 0;
  std::vector<TradePoint> points_;  // from the dearest price on, the unpaced one first
  std::unique_ptr<PriceEstimate> estimate_;
};

}  // namespace meltlag::adapt
