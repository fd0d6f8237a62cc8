// SPDX-License-Identifier: MIT
#include "meltlag/fit/feed_choices.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "meltlag/fit/linear_fit.hpp"

namespace meltlag::fit {
namespace {

struct Shape {
  int cups_per_flow;
  double cup_s;
};

CupChoice told(Shape const& shape,
               std::set<double> const& flows,
               testpiece::FeedOptions const& options,
               double density_g_cm3) {
  auto const count = static_cast<double>(flows.size());
  CupChoice choice{.cups_per_flow = shape.cups_per_flow, .cup_s = shape.cup_s};
  choice.cups = shape.cups_per_flow * static_cast<int>(flows.size());
  choice.presses = 2 * choice.cups + 1;  // cup under, cup out; the waste cup of the priming
  double const each_s = options.settle_s + shape.cup_s + 2 * options.drip_s;
  choice.minutes = (options.prime_s + options.drip_s + choice.cups * each_s) / 60;
  double const own = cup_scatter * std::sqrt(60 / shape.cup_s);
  double variance = 0, scale_squares = 0;
  for (double const flow : flows) {
    double const mass_g = flow * shape.cup_s * density_g_cm3 / 1000;
    double const scale = options.scale_g / std::sqrt(6.0) / mass_g;  // weighed empty and full
    scale_squares += scale * scale / count;
    variance += (own * own + scale * scale) / shape.cups_per_flow / (count * count);
  }
  int const freedom = std::max(1, choice.cups - static_cast<int>(flows.size()) - 1);
  choice.factor_plus_minus = t_of_95_percent(freedom) * std::sqrt(variance);
  // A scatter shows above the scale's where it widens the whole beyond what chance does to it.
  choice.visible_scatter =
      std::sqrt(scale_squares * (std::pow(sd_factors_of_95_percent(freedom).high, 2) - 1));
  return choice;
}

}  // namespace

std::vector<CupChoice> cup_choices(testpiece::FeedProgram const& program,
                                   testpiece::FeedOptions const& options,
                                   double density_g_cm3) {
  std::set<double> flows;
  for (testpiece::Cup const& cup : program.cups) flows.insert(cup.flow_mm3_s);
  if (flows.empty()) return {};
  int const own = static_cast<int>(program.cups.size() / flows.size());
  std::vector<Shape> shapes{{own, options.cup_s}};
  for (Shape const& other : {Shape{own, 2 * options.cup_s},
                             Shape{3, options.cup_s},
                             Shape{3, 2 * options.cup_s},
                             Shape{2, 4 * options.cup_s}})
    if (other.cups_per_flow < own || other.cups_per_flow == own) shapes.push_back(other);
  std::vector<CupChoice> choices;
  for (Shape const& shape : shapes) {
    bool const again = std::ranges::any_of(choices, [&](CupChoice const& c) {
      return c.cups_per_flow == shape.cups_per_flow && c.cup_s == shape.cup_s;
    });
    if (!again) choices.push_back(told(shape, flows, options, density_g_cm3));
  }
  return choices;
}

}  // namespace meltlag::fit
