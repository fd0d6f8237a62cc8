// SPDX-License-Identifier: MIT
#include "price_estimate.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::adapt {
namespace {

// Prices that a search begins with, and the least that is tried, as shares of the mean flow: a
// price of 1 pays a second with the plastic of a second.
constexpr double first_prices[] = {0.3, 0.03};
constexpr double least_price = 1e-3;
constexpr double nothing_misplaced = 1e-3;  // share that nobody could see
constexpr int most_refinements = 7;
constexpr double tiny = 1e-4;

// Values and prices follow powers of each other.
double between(double from, double to, double part) {
  return std::exp(std::log(from) + part * (std::log(to) - std::log(from)));
}

double part_of(double dear, double cheap, double wanted) {
  double const from = std::log(std::max(dear, 0.0) + tiny);
  double const to = std::log(std::max(cheap, 0.0) + tiny);
  return to == from ? 0.5 : (std::log(wanted + tiny) - from) / (to - from);
}

}  // namespace

PriceEstimate::PriceEstimate(Run run, double mean_flow_mm3_s)
    : run_(std::move(run)), mean_flow_mm3_s_(mean_flow_mm3_s) {
  std::vector<double> prices;
  for (double const p : first_prices) prices.push_back(p * mean_flow_mm3_s_);
  evaluate(prices);
}

void PriceEstimate::evaluate(std::vector<double> const& prices) {
  std::vector<Point> const found = run_(prices);
  points_.insert(points_.end(), found.begin(), found.end());
  std::sort(points_.begin(), points_.end(), [](Point const& a, Point const& b) {
    return a.price > b.price;
  });
}

// False where a second is nearly free already.
bool PriceEstimate::evaluate_cheaper(Value value, double wanted) {
  Point const& last = points_.back();
  // Against a price that is far enough from it: near ones buy little in any case.
  constexpr double far = 3;
  auto const dear = std::find_if(points_.rbegin(), points_.rend(), [&](Point const& p) {
    return p.price >= far * last.price;
  });
  if (dear == points_.rend()) return false;
  if (last.price <= least_price * mean_flow_mm3_s_ || last.misplaced < nothing_misplaced ||
      dear->misplaced - last.misplaced < nothing_misplaced / 2)
    return false;
  if (value == &Point::misplaced) {  // it may fall no further
    evaluate({last.price / 4, last.price / 16});
    return true;
  }
  // On both sides of where it would be if values went on as between these two.
  constexpr double nearest = 0.7, farthest = 0.05, above = 1.25, below = 0.65;
  double const there =
      between(dear->price, last.price, part_of((*dear).*value, last.*value, wanted));
  double const aim = std::clamp(there, farthest * last.price, nearest * last.price);
  evaluate({above * aim, below * aim});
  return true;
}

double PriceEstimate::price_for(Value value, double wanted) {
  constexpr double close = 0.35, met = 0.1, apart = 0.04, around = 0.1;
  bool const grows = value == &Point::extra;
  for (int round = 0;; ++round) {
    auto const beyond = std::find_if(points_.begin(), points_.end(), [&](Point const& p) {
      return grows ? p.*value > wanted : p.*value <= wanted;
    });
    if (beyond == points_.end()) {
      if (round == most_refinements || !evaluate_cheaper(value, wanted))
        return points_.back().price;
      continue;
    }
    if (beyond == points_.begin()) {
      double const price = beyond->price;
      if (round == most_refinements) return price;
      evaluate({3 * price, 9 * price});
      continue;
    }
    Point const dear = *(beyond - 1), cheap = *beyond;
    auto const price_at = [&](double aim) {
      double const part = std::clamp(part_of(dear.*value, cheap.*value, aim), apart, 1 - apart);
      return between(dear.price, cheap.price, part);
    };
    double const apart_now = std::abs(cheap.*value - dear.*value);
    // The file and its sample differ by more.
    double const off = std::min(std::abs(dear.*value - wanted), std::abs(cheap.*value - wanted));
    bool const known = off <= met * wanted || apart_now <= close * wanted;
    // Time may jump from one price to the next.
    constexpr double same_price = 1.03;
    bool const jumps = dear.price < same_price * cheap.price;
    if (round == most_refinements || jumps || known) return price_at(wanted);
    double const first = price_at((1 - around) * wanted);
    double second = price_at((1 + around) * wanted);
    constexpr double other_side = 0.7;
    if (second > 0.99 * first) second = between(dear.price, cheap.price, other_side);
    evaluate({first, second});
  }
}

double PriceEstimate::at(Value value, double price) const {
  auto const cheap = std::find_if(
      points_.begin(), points_.end(), [&](Point const& p) { return p.price <= price; });
  if (cheap == points_.begin()) return points_.front().*value;
  if (cheap == points_.end()) return points_.back().*value;
  Point const& dear = *(cheap - 1);
  double const part =
      (std::log(price) - std::log(dear.price)) / (std::log(cheap->price) - std::log(dear.price));
  return between(dear.*value + tiny, (*cheap).*value + tiny, part) - tiny;
}

}  // namespace meltlag::adapt
