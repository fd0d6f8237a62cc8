// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>

#include "layers.hpp"
#include "meltlag/adapt/pace.hpp"
#include "meltlag/base/parallel.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/judge/judge.hpp"
#include "price_estimate.hpp"

namespace meltlag::adapt {
namespace {

constexpr int most_rounds_in_all = 30;
constexpr int most_rounds_each = 9;  // for one grant
constexpr int most_rounds_to_target = 10;
// A sample has at least so many windows, and is at most this small a share of the file.
constexpr std::int64_t least_windows = 8;
constexpr std::int64_t most_every = 16;
constexpr double same_price = 1e-3;      // prices that differ by less are one
constexpr double worth_a_search = 3e-4;  // share of what is wanted, for one grant

AdaptInfo without_text(std::string const& path,
                       AdaptOptions const& given,
                       double price,
                       int every) {
  PassOptions options{given};
  options.price_mm3_per_s = price;
  options.sample_every = every;
  Notices unused;
  return adapt_pass(
      path, options, [](std::string_view) {}, unused);
}

double misplaced_share_of(AdaptInfo const& info) {
  return info.wanted_mm3 > 0 ? info.misplaced_mm3 / info.wanted_mm3 : 0;
}

// One of the passes, of which nobody knows how many there will be.
class CountedPass {
 public:
  explicit CountedPass(std::size_t number)
      : name_("trial " + std::to_string(number)), task_(name_, 0, 1, Task::Rest::open) {}

 private:
  std::string name_;
  Task task_;
};

// One pass for each price, two at a time. `begun`: how many there were before.
template <class Pass>
std::vector<AdaptInfo> two_at_a_time(std::vector<double> const& prices,
                                     std::size_t& begun,
                                     Pass const& pass) {
  std::vector<AdaptInfo> out(prices.size());
  in_parallel(prices.size(), 2, [&](std::size_t i) {
    CountedPass const one(begun + i + 1);
    out[i] = pass(prices[i]);
  });
  begun += prices.size();
  return out;
}

bool is_among(std::vector<double> const& prices, double price) {
  return std::ranges::any_of(
      prices, [&](double other) { return std::abs(other / price - 1) < same_price; });
}

void add_unasked(std::vector<double> const& more, std::vector<double>& prices) {
  for (double const price : more)
    if (!is_among(prices, price)) prices.push_back(price);
}

// Between a price and the dearer one that was tried next to it; beyond it where there is none.
double halfway(double cheap, double dear) { return dear > 0 ? std::sqrt(dear * cheap) : 3 * cheap; }

// The paced pass whose price is closest; the first of `points` is not paced.
TradePoint const* nearest(std::vector<TradePoint> const& points, double price) {
  TradePoint const* found = nullptr;
  auto const distance = [&](TradePoint const& p) {
    return std::abs(std::log(p.price_mm3_per_s / price));
  };
  for (std::size_t i = 1; i < points.size(); ++i) {
    if (found == nullptr || distance(points[i]) < distance(*found)) found = &points[i];
  }
  return found;
}

// The price for `wanted` by the estimate, put right by the pass closest to what comes of that.
// `passed`: the value of a pass.
template <class Passed>
double price_by_passes(PriceEstimate& guess,
                       PriceEstimate::Value value,
                       double wanted,
                       std::vector<TradePoint> const& points,
                       Passed const& passed) {
  constexpr int corrections = 4;
  double price = guess.price_for(value, wanted);
  for (int i = 0; i < corrections; ++i) {
    TradePoint const* const pass = nearest(points, price);
    if (pass == nullptr || passed(*pass) <= 0) break;
    double const guessed = guess.at(value, pass->price_mm3_per_s), before = price;
    price = guess.price_for(value, wanted * guessed / passed(*pass));
    if (std::abs(price / before - 1) < same_price) break;
  }
  return price;
}

}  // namespace

double SlicedTime::allowed_s(double extra) const {
  return std::max((1 + extra) * as_sliced_s, flow_set_right_s);
}

SlicedTime sliced_time(std::string const& path, AdaptOptions const& options) {
  judge::JudgeOptions figures{
      .plant = options.plant, .limits = options.limits, .g91_covers_e = options.g91_covers_e};
  figures.prove = judge::Prove::figures_only;
  Notices unused;
  judge::Judgement const judged = judge::predict(path, figures, unused, nullptr);
  return {judged.before.planned_s, judged.flow_set_right.planned_s};
}

TradeCurve::TradeCurve(std::string path, AdaptOptions options, Pass pass)
    : path_(std::move(path)),
      options_(std::move(options)),
      pass_(std::move(pass)),
      sliced_(sliced_time(path_, options_)) {
  if (!pass_) pass_ = [this](double price) { return without_text(path_, options_, price, 1); };
  points_.push_back({0, two_at_a_time({0}, trials_, pass_).front()});
  AdaptInfo const& info = points_.front().info;
  if (info.path_s > 0) mean_flow_mm3_s_ = info.wanted_mm3 / info.path_s;
}

TradeCurve::~TradeCurve() = default;

double TradeCurve::added_s(TradePoint const& point) const {
  return point.info.path_s - sliced_.as_sliced_s;
}

double TradeCurve::extra_share(TradePoint const& point) const {
  return sliced_.as_sliced_s > 0 ? added_s(point) / sliced_.as_sliced_s : 0;
}

double TradeCurve::spent(TradePoint const& point) const {
  double const base = unpaced().info.path_s;
  return base > 0 ? point.info.path_s / base - 1 : 0;
}

double TradeCurve::spendable(double extra) const {
  double const base = unpaced().info.path_s;
  return base > 0 ? (1 - time_rounding) * sliced_.allowed_s(extra) / base - 1 : 0;
}

std::vector<AdaptInfo> TradeCurve::evaluate(std::vector<double> const& prices) {
  std::vector<AdaptInfo> found = two_at_a_time(prices, trials_, pass_);
  for (std::size_t i = 0; i < prices.size(); ++i) points_.push_back({prices[i], found[i]});
  std::sort(points_.begin() + 1, points_.end(), [](TradePoint const& a, TradePoint const& b) {
    return a.price_mm3_per_s > b.price_mm3_per_s;
  });
  return found;
}

// On a sample where the file has windows enough; else its passes are whole and count as such.
PriceEstimate& TradeCurve::estimate() {
  if (estimate_) return *estimate_;
  auto const every = static_cast<int>(
      std::clamp<std::int64_t>(unpaced().info.windows / least_windows, 1, most_every));
  auto const point = [](double price, AdaptInfo const& info, AdaptInfo const& base) {
    return PriceEstimate::Point{
        price, base.path_s > 0 ? info.path_s / base.path_s - 1 : 0, misplaced_share_of(info)};
  };
  AdaptInfo const base = every > 1 ? without_text(path_, options_, 0, every) : points_.front().info;
  estimate_ = std::make_unique<PriceEstimate>(
      [this, every, base, point](std::vector<double> const& prices) {
        std::vector<AdaptInfo> const found = two_at_a_time(prices, trials_, [&](double price) {
          return without_text(path_, options_, price, every);
        });
        std::vector<PriceEstimate::Point> out;
        for (std::size_t i = 0; i < prices.size(); ++i)
          out.push_back(point(prices[i], found[i], base));
        return out;
      },
      mean_flow_mm3_s_);
  return *estimate_;
}

bool TradeCurve::known(double price) const {
  TradePoint const* const found = nearest(points_, price);
  return found != nullptr && std::abs(found->price_mm3_per_s / price - 1) < same_price;
}

double TradeCurve::price_spending(double share) {
  auto const passed = [this](TradePoint const& pass) { return spent(pass); };
  return price_by_passes(estimate(), &PriceEstimate::Point::extra, share, points_, passed);
}

double TradeCurve::price_reaching(double share) {
  auto const passed = [](TradePoint const& pass) { return pass.misplaced_share(); };
  return price_by_passes(estimate(), &PriceEstimate::Point::misplaced, share, points_, passed);
}

TradePoint const& TradeCurve::best_within(double extra) const {
  TradePoint const* best = &points_.front();
  for (TradePoint const& p : points_) {
    if (spent(p) <= spendable(extra) && p.misplaced_share() < best->misplaced_share()) best = &p;
  }
  return *best;
}

std::vector<TradePoint>::const_iterator TradeCurve::first_over(double share) const {
  return std::find_if(
      points_.begin() + 1, points_.end(), [&](TradePoint const& p) { return spent(p) > share; });
}

// Prices to try next for a grant. Where the estimate has nothing new to say, those between the
// passes next to it on both sides.
std::vector<double> TradeCurve::next_prices(double spendable, double closeness, int round) {
  double const price = price_spending(spendable * (1 + closeness) / 2);
  auto const over = first_over(spendable);
  if (over == points_.end()) return known(price) ? std::vector<double>{} : std::vector{price};
  bool const dearest = over == points_.begin() + 1;
  double const low = over->price_mm3_per_s, high = dearest ? 9 * low : (over - 1)->price_mm3_per_s;
  constexpr int trusted_rounds = 4;
  bool const inside = price > low && price < high && !known(price);
  if (inside && round < trusted_rounds) return {price};
  if (high < 1.01 * low) return {};
  double const third = std::cbrt(high / low);
  return {low * third, high / third};
}

// Whether a pass that takes more time than granted shows that what is left of it would buy next to
// nothing beside the best pass so far that was paced: none that takes less time than another
// misplaces less.
bool TradeCurve::bought_nothing(double extra, double share) const {
  TradePoint const& best = best_within(extra);
  auto const over = first_over(share);
  return best.price_mm3_per_s > 0 && over != points_.end() &&
         best.misplaced_share() - over->misplaced_share() < worth_a_search;
}

// The same by the estimate, where there is no such pass.
bool TradeCurve::would_buy_nothing(double extra, double share) {
  TradePoint const& best = best_within(extra);
  if (best.price_mm3_per_s <= 0) return false;
  PriceEstimate& guess = estimate();
  double const price = price_spending(share);
  return guess.at(&PriceEstimate::Point::misplaced, best.price_mm3_per_s) -
             guess.at(&PriceEstimate::Point::misplaced, price) <
         worth_a_search;
}

void TradeCurve::spend(std::vector<double> const& grants, double closeness) {
  if (mean_flow_mm3_s_ <= 0) return;
  // Every second grant first, two at a time: their passes put the estimate right for the others.
  std::vector<double> order;
  for (std::size_t i = 1; i < grants.size(); i += 2) order.push_back(grants[i]);
  for (std::size_t i = 0; i < grants.size(); i += 2) order.push_back(grants[i]);
  std::map<double, int> rounds;
  for (int round = 0; round < most_rounds_in_all; ++round) {
    std::vector<double> prices;
    for (double const grant : order) {
      if (prices.size() >= 2) break;
      int& own_round = rounds[grant];
      // The longer it takes the less is asked for: time may jump from one price to the next.
      constexpr double less_each_round = 0.05;
      double const enough = closeness - less_each_round * std::max(0, own_round - 1);
      double const share = spendable(grant);
      if (!(grant > 0) || !(share > 0) || spent(best_within(grant)) >= enough * share) continue;
      if (own_round == most_rounds_each) continue;
      bool const several = grants.size() > 1;
      if (bought_nothing(grant, share) || (several && would_buy_nothing(grant, share))) continue;
      add_unasked(next_prices(share, closeness, own_round++), prices);
    }
    if (prices.empty()) return;
    evaluate(prices);
  }
}

TradePoint TradeCurve::within(double extra, double closeness) {
  spend({extra}, closeness);
  return best_within(extra);
}

// The quickest of the passes that misplace at most `share`, else the best.
TradePoint TradeCurve::best_for(double share) const {
  auto const better = [&](TradePoint const& a, TradePoint const& b) {
    bool const a_meets = a.misplaced_share() <= share, b_meets = b.misplaced_share() <= share;
    if (a_meets != b_meets) return a_meets;
    if (a_meets) return a.info.path_s < b.info.path_s;
    return a.misplaced_share() < b.misplaced_share();
  };
  return *std::min_element(points_.begin(), points_.end(), better);
}

TradePoint TradeCurve::reaching(double share) {
  if (unpaced().misplaced_share() <= share || mean_flow_mm3_s_ <= 0) return unpaced();
  constexpr double close_share = 0.96, close_time = 0.003;
  for (int round = 0; round < most_rounds_to_target; ++round) {
    auto const under = std::find_if(points_.begin(), points_.end(), [&](TradePoint const& p) {
      return p.misplaced_share() <= share;
    });
    if (under != points_.end()) {
      TradePoint const& dear = *(under - 1);
      if (under->misplaced_share() >= close_share * share ||
          spent(*under) - spent(dear) < close_time)
        return *under;
    }
    double price = price_reaching(share * (1 + close_share) / 2);
    if (under != points_.end()) {
      // Where the estimate is no help: halfway between what is known.
      double const cheap = under->price_mm3_per_s, dear = (under - 1)->price_mm3_per_s;
      bool const inside = price > cheap && (dear == 0 || price < dear) && !known(price);
      if (!inside) price = halfway(cheap, dear);
    }
    if (known(price)) break;
    evaluate({price});
  }
  return best_for(share);
}

}  // namespace meltlag::adapt
