// SPDX-License-Identifier: MIT
#include "feed_outliers.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace meltlag::fit {
namespace {

constexpr std::size_t fewest_cups = 8;
constexpr double deviations = 5;
constexpr double normal_mad = 1.4826;  // a normal law's deviation over its median distance

double median(std::vector<double> values) {
  auto const middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::ranges::nth_element(values, middle);
  if (values.size() % 2 == 1) return *middle;
  return (*middle + *std::max_element(values.begin(), middle)) / 2;
}

// Over pairs of one flow, so that differences between flows do not look like a drift.
double median_slope(std::vector<CupShare> const& cups) {
  std::vector<double> slopes;
  for (std::size_t i = 0; i < cups.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (cups[i].reading.flow_mm3_s == cups[j].reading.flow_mm3_s)
        slopes.push_back((cups[i].share - cups[j].share) /
                         (cups[i].reading.number - cups[j].reading.number));
  return slopes.empty() ? 0 : median(std::move(slopes));
}

// What each cup's share should be by the others.
std::vector<double> expectations(std::vector<CupShare> const& cups) {
  double const slope = median_slope(cups);
  std::map<double, std::vector<double>> levels;
  for (CupShare const& cup : cups)
    levels[cup.reading.flow_mm3_s].push_back(cup.share - slope * cup.reading.number);
  std::map<double, double> medians;
  for (auto const& [flow, shares] : levels) medians[flow] = median(shares);
  std::vector<double> expected;
  for (CupShare const& cup : cups)
    expected.push_back(medians[cup.reading.flow_mm3_s] + slope * cup.reading.number);
  return expected;
}

}  // namespace

std::vector<OddCup> take_out_odd_cups(std::vector<CupShare>& cups, double scale_g) {
  if (cups.size() < fewest_cups) return {};
  std::vector<double> const expected = expectations(cups);
  std::vector<double> distances;
  for (std::size_t i = 0; i < cups.size(); ++i)
    distances.push_back(std::abs(cups[i].share - expected[i]));
  double const deviation = normal_mad * median(distances);
  std::vector<OddCup> odd;
  std::vector<CupShare> kept;
  for (std::size_t i = 0; i < cups.size(); ++i) {
    double const scale = scale_g / std::sqrt(6.0) / cups[i].reading.mass_g * cups[i].share;
    if (distances[i] > deviations * std::max(deviation, scale))
      odd.push_back({cups[i].reading, cups[i].share, expected[i]});
    else
      kept.push_back(cups[i]);
  }
  cups = std::move(kept);
  return odd;
}

}  // namespace meltlag::fit
