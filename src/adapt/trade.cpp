// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <future>

#include "meltlag/adapt/pace.hpp"

namespace meltlag::adapt {
namespace {

// Prices that a search begins with, and the least that is tried, as shares of the mean flow: a
// price of 1 pays a second with the plastic of a second.
constexpr double first_prices[] = {0.5, 0.125};
constexpr double least_price = 1e-3;
constexpr double nothing_misplaced = 1e-3;  // share that nobody could see
constexpr int most_refinements = 5;

TradePoint pass(std::string const& path, AdaptOptions options, double price) {
  options.price_mm3_per_s = price;
  Notices unused;
  return {price,
          adapt(
              path, options, [](std::string_view) {}, unused)};
}

// Where a quantity that follows a power of the price has the value `wanted`, kept apart from both
// ends.
double price_between(TradePoint const& dear,
                     TradePoint const& cheap,
                     double at_dear,
                     double at_cheap,
                     double wanted) {
  constexpr double tiny = 1e-4, apart = 0.08;
  double const from = std::log(at_dear + tiny), to = std::log(at_cheap + tiny);
  double const at =
      to == from ? 0.5
                 : std::clamp((std::log(wanted + tiny) - from) / (to - from), apart, 1 - apart);
  return dear.price_mm3_per_s * std::pow(cheap.price_mm3_per_s / dear.price_mm3_per_s, at);
}

double middle(TradePoint const& dear, TradePoint const& cheap) {
  return std::sqrt(dear.price_mm3_per_s * cheap.price_mm3_per_s);
}

}  // namespace

TradeCurve::TradeCurve(std::string path, AdaptOptions options)
    : path_(std::move(path)), options_(std::move(options)) {
  points_.push_back(pass(path_, options_, 0));
  AdaptInfo const& info = points_.front().info;
  if (info.path_s > 0) mean_flow_mm3_s_ = info.wanted_mm3 / info.path_s;
}

double TradeCurve::extra_share(TradePoint const& point) const {
  double const base = unpaced().info.path_s;
  return base > 0 ? point.info.path_s / base - 1 : 0;
}

void TradeCurve::evaluate(std::vector<double> const& prices) {
  for (std::size_t i = 0; i < prices.size(); i += 2) {
    std::future<TradePoint> second;
    if (i + 1 < prices.size())
      second = std::async(std::launch::async, [&] { return pass(path_, options_, prices[i + 1]); });
    points_.push_back(pass(path_, options_, prices[i]));
    if (second.valid()) points_.push_back(second.get());
  }
  std::sort(points_.begin() + 1, points_.end(), [](TradePoint const& a, TradePoint const& b) {
    return a.price_mm3_per_s > b.price_mm3_per_s;
  });
}

void TradeCurve::start() {
  if (points_.size() > 1 || mean_flow_mm3_s_ <= 0) return;
  std::vector<double> prices;
  for (double const p : first_prices) prices.push_back(p * mean_flow_mm3_s_);
  evaluate(prices);
}

// False where a second is nearly free already.
bool TradeCurve::evaluate_cheaper() {
  double const last = points_.back().price_mm3_per_s;
  if (points_.size() < 2 || last <= least_price * mean_flow_mm3_s_) return false;
  double const now = points_.back().misplaced_share();
  double const before = points_[points_.size() - 2].misplaced_share();
  if (now < nothing_misplaced || before - now < nothing_misplaced / 2) return false;
  evaluate({last / 4, last / 16});
  return true;
}

TradePoint const& TradeCurve::best_within(double extra) const {
  TradePoint const* best = &points_.front();
  for (TradePoint const& p : points_) {
    if (extra_share(p) <= extra && p.misplaced_share() < best->misplaced_share()) best = &p;
  }
  return *best;
}

TradePoint TradeCurve::within(double extra, double closeness) {
  if (!(extra > 0)) return unpaced();
  start();
  for (int round = 0; round < most_refinements; ++round) {
    if (extra_share(best_within(extra)) >= closeness * extra) break;
    auto const over = std::find_if(points_.begin() + 1, points_.end(), [&](TradePoint const& p) {
      return extra_share(p) > extra;
    });
    if (over == points_.end()) {
      if (!evaluate_cheaper()) break;
    } else if (over == points_.begin() + 1) {
      evaluate({3 * over->price_mm3_per_s, 9 * over->price_mm3_per_s});
    } else {
      TradePoint const dear = *(over - 1), cheap = *over;
      auto const at = [&](double share) {
        return price_between(dear, cheap, extra_share(dear), extra_share(cheap), share * extra);
      };
      evaluate({at((1 + closeness) / 2), middle(dear, cheap)});
    }
  }
  return best_within(extra);
}

TradePoint TradeCurve::reaching(double share) {
  if (unpaced().misplaced_share() <= share) return unpaced();
  start();
  for (int round = 0; round < 2 * most_refinements; ++round) {
    auto const under = std::find_if(points_.begin(), points_.end(), [&](TradePoint const& p) {
      return p.misplaced_share() <= share;
    });
    if (under == points_.end()) {
      if (!evaluate_cheaper()) break;
      continue;
    }
    constexpr double close_share = 0.96, close_time = 0.003;
    TradePoint const dear = *(under - 1), cheap = *under;
    if (cheap.misplaced_share() >= close_share * share ||
        extra_share(cheap) - extra_share(dear) < close_time)
      return cheap;
    if (dear.price_mm3_per_s == 0) {
      evaluate({3 * cheap.price_mm3_per_s, 9 * cheap.price_mm3_per_s});
    } else {
      auto const at = [&](double part) {
        return price_between(
            dear, cheap, dear.misplaced_share(), cheap.misplaced_share(), part * share);
      };
      evaluate({at((1 + close_share) / 2), middle(dear, cheap)});
    }
  }
  auto const better = [&](TradePoint const& a, TradePoint const& b) {
    bool const a_meets = a.misplaced_share() <= share, b_meets = b.misplaced_share() <= share;
    if (a_meets != b_meets) return a_meets;
    if (a_meets) return a.info.path_s < b.info.path_s;
    return a.misplaced_share() < b.misplaced_share();
  };
  return *std::min_element(points_.begin(), points_.end(), better);
}

}  // namespace meltlag::adapt
