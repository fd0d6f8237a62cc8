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
#include <optional>
#include <string>
#include <vector>

#include "meltlag/adapt/pass.hpp"

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

// Planned time of a file, waits of unknown length not counted, in s.
struct SlicedTime {
  double as_sliced_s = 0, flow_set_right_s = 0;
  // What a pass may take with `extra` granted, a share of the file as sliced: never less than with
  // its flow set right.
  [[nodiscard]] double allowed_s(double extra) const;
};
[[nodiscard]] SlicedTime sliced_time(std::string const& path, AdaptOptions const& options);

// Passes over one file, two at a time. Which prices are tried depends on the file alone: they are
// found on a sample of its windows first. All shares of time are those of the file as sliced.
class TradeCurve {
 public:
  // Schedules the whole file with a price. May be called from two threads at once.
  using Pass = std::function<AdaptInfo(double price_mm3_per_s)>;

  // `options` says all but the price. Without a pass of one's own the text goes nowhere.
  TradeCurve(std::string path, AdaptOptions options, Pass pass = {});
  ~TradeCurve();

  // The pass without pace.
  [[nodiscard]] TradePoint const& unpaced() const { return points_.front(); }
  [[nodiscard]] SlicedTime const& sliced() const { return sliced_; }
  // Time of a pass beyond the file as sliced; below 0 where it is sooner done.
  [[nodiscard]] double added_s(TradePoint const& point) const;
  [[nodiscard]] double extra_share(TradePoint const& point) const;

  // Finds a pass for each grant that takes at most so much more than the file as sliced, and spends
  // at least `closeness` of what there is beyond the pass without pace, somewhat less where that is
  // hard to find, unless more time buys nothing.
  void spend(std::vector<double> const& grants, double closeness);
  // The best pass that takes at most `extra` more, after such a search.
  TradePoint within(double extra, double closeness = 0.9);
  // The best of the passes made so far.
  [[nodiscard]] TradePoint const& best_within(double extra) const;
  // The quickest pass found that misplaces at most `share`, else the one that misplaces least.
  TradePoint reaching(double share);

 private:
  std::vector<AdaptInfo> evaluate(std::vector<double> const& prices);
  PriceEstimate& estimate();
  // Beyond the pass without pace, as shares of it: what is spent, what may be.
  [[nodiscard]] double spent(TradePoint const& point) const;
  [[nodiscard]] double spendable(double extra) const;
  // The dearest pass that takes more than this share.
  [[nodiscard]] std::vector<TradePoint>::const_iterator first_over(double share) const;
  [[nodiscard]] bool known(double price) const;
  [[nodiscard]] bool bought_nothing(double extra, double share) const;
  bool would_buy_nothing(double extra, double share);
  std::vector<double> next_prices(double spendable, double closeness, int round);
  double price_spending(double share);
  double price_reaching(double share);
  [[nodiscard]] TradePoint best_for(double share) const;

  std::string path_;
  AdaptOptions options_;
  Pass pass_;
  SlicedTime sliced_;
  double mean_flow_mm3_s_ = 0;
  std::size_t trials_ = 0;          // passes begun, those on a sample too
  std::vector<TradePoint> points_;  // from the dearest price on, the unpaced one first
  std::unique_ptr<PriceEstimate> estimate_;
};

// How much print time beyond the file as sliced may be spent. Neither: none is.
struct TimeGrant {
  std::optional<double> extra_share;  // at most so much of it; a target alone takes what it takes
  std::optional<double> target;       // the least time that brings the misplaced share to this
};

// The pass that was chosen.
struct PaceChoice {
  double price_mm3_per_s = 0;
  double extra_share = 0, added_s = 0;  // beyond the file as sliced
  double allowed_share = 0;             // what was granted, or what the target takes
  std::optional<double> target;         // the share asked for
  double misplaced_share = 0;           // as scheduled
  double unpaced_share = 0;             // the same without pace
  LimitTimes limits = {};

  [[nodiscard]] bool reaches_target() const { return !target || misplaced_share <= *target; }
};

// Chooses the price for what is granted or aimed at, best by the lag as it is believed; no choice
// where neither is. A grant of more than ten times the file counts as ten times. `pass`: as of a
// TradeCurve.
[[nodiscard]] std::optional<PaceChoice> choose_pace(std::string const& path,
                                                    AdaptOptions const& options,
                                                    TimeGrant const& grant,
                                                    TradeCurve::Pass pass = {});

}  // namespace meltlag::adapt
