// SPDX-License-Identifier: MIT
#include "meltlag/fit/feed_verdict.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <utility>

#include "cup_share.hpp"
#include "feed_outliers.hpp"
#include "feed_starving.hpp"
#include "meltlag/base/error.hpp"

namespace meltlag::fit {
namespace {

constexpr int least_freedom = 2;

struct Model {
  LinearFit levels_and_drift;  // one level for each flow, then the drift
  LinearFit one_level_and_drift;
};

std::vector<double> flows_in(std::vector<CupShare> const& cups) {
  std::vector<double> flows;
  for (CupShare const& cup : cups) flows.push_back(cup.reading.flow_mm3_s);
  std::ranges::sort(flows);
  flows.erase(std::unique(flows.begin(), flows.end()), flows.end());
  return flows;
}

double middle_number(std::vector<CupShare> const& cups) {
  double sum = 0;
  for (CupShare const& cup : cups) sum += cup.reading.number;
  return sum / static_cast<double>(cups.size());
}

Model fit_model(std::vector<CupShare> const& cups, std::vector<double> const& flows) {
  std::vector<double> shares, order;
  std::vector<std::vector<double>> levels(flows.size(), std::vector<double>(cups.size(), 0.0));
  for (std::size_t i = 0; i < cups.size(); ++i) {
    shares.push_back(cups[i].share);
    order.push_back(cups[i].reading.number);
    auto const flow = std::ranges::lower_bound(flows, cups[i].reading.flow_mm3_s) - flows.begin();
    levels[static_cast<std::size_t>(flow)][i] = 1;
  }
  double const middle = middle_number(cups);
  for (double& number : order) number -= middle;
  levels.push_back(order);
  std::vector<std::vector<double>> const one{std::vector<double>(cups.size(), 1.0), order};
  return {fit_linear(shares, levels), fit_linear(shares, one)};
}

void check_count(std::size_t cups, std::size_t flows, Sheet const& sheet) {
  if (cups >= flows + 1 + least_freedom) return;
  throw Error(fmt::format("{} {} with a mass {} too few to judge the feed",
                          cups,
                          cups == 1 ? "cup" : "cups",
                          cups == 1 ? "is" : "are"),
              {.file = sheet.name()},
              fmt::format("weigh {} or more; ten at each flow make a good test",
                          std::max<std::size_t>(flows + 1 + least_freedom, 6)));
}

// A cup that starves may hold a small share of what was commanded, but no less than slower ones.
void check_reason(CupShare const& cup, double slowest_mm3_s, Sheet const& sheet) {
  double const least = least_share * slowest_mm3_s / cup.reading.flow_mm3_s;
  if (cup.share >= least && cup.share <= greatest_share) return;
  throw Error(
      fmt::format("cup {} holds {:.3g} times what was commanded", cup.reading.number, cup.share),
      sheet.place(cup.reading.row, "mass_g"),
      "is the mass in g without the cup, the density in g/cm³, and did a spreadsheet change a "
      "decimal mark?");
}

// The coarsest step of a scale that all masses are whole multiples of; 0 with too few of them.
double written_step_g(std::vector<CupReading> const& cups) {
  constexpr std::size_t enough = 8;
  if (cups.size() < enough) return 0;
  for (double const step : {1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002}) {
    bool const all = std::ranges::all_of(cups, [&](CupReading const& cup) {
      double const steps = cup.mass_g / step;
      return std::abs(steps - std::round(steps)) < 1e-6;
    });
    if (all) return step;
  }
  return 0;
}

double scale_scatter(CupReading const& cup, FeedJudgeOptions const& options) {
  double const step_sd_g = options.scale_g / std::sqrt(6.0);  // the cup is weighed empty and full
  return step_sd_g / cup.mass_g;
}

// Of a flow's delivered factor. Cups that scatter less than the scale's steps are all rounded
// alike: more of them tell no more.
double level_sd(FlowShare const& share, LinearFit const& fit) {
  double const by_cups = fit.residual_sd() / std::sqrt(share.cups);
  bool const alike = fit.residual_sd() < share.scale_scatter * share.delivered_factor;
  return alike ? std::max(by_cups, share.scale_scatter * share.delivered_factor) : by_cups;
}

// Cups of a few steps of the scale say nothing at all: not even which of them starve.
void check_scale(std::vector<CupReading> const& cups,
                 Sheet const& sheet,
                 FeedJudgeOptions const& options) {
  constexpr double most = 0.2;  // of a cup
  double squares = 0;
  for (CupReading const& cup : cups) squares += std::pow(scale_scatter(cup, options), 2);
  double const share = std::sqrt(squares / static_cast<double>(cups.size()));
  if (share <= most) return;
  throw Error(fmt::format("this scale cannot tell: its steps of {:g} g make {:.0f} % of a cup",
                          options.scale_g,
                          100 * share),
              {.file = sheet.name()},
              "weigh to 0.01 g or finer, or collect longer: `calibrate feed` shows what --cups and "
              "--seconds cost when it writes the file");
}

// `flow` is the place of the cup's flow among the levels of the fit.
FlowShare flow_share(std::vector<CupShare> const& cups,
                     double flow_mm3_s,
                     std::size_t flow,
                     LinearFit const& fit,
                     FeedJudgeOptions const& options) {
  double const level = fit.coefficients[flow], slope = fit.coefficients.back();
  double const middle = middle_number(cups);
  FlowShare share{.flow_mm3_s = flow_mm3_s, .delivered_factor = level};
  double squares = 0, scale = 0;
  for (CupShare const& cup : cups) {
    if (cup.reading.flow_mm3_s != flow_mm3_s) continue;
    ++share.cups;
    squares += std::pow(cup.share - level - slope * (cup.reading.number - middle), 2);
    scale += std::pow(scale_scatter(cup.reading, options), 2);
  }
  share.scatter = share.cups > 1 ? std::sqrt(squares / (share.cups - 1)) / level
                                 : std::numeric_limits<double>::quiet_NaN();
  share.scale_scatter = std::sqrt(scale / share.cups);
  share.plus_minus = t_of_95_percent(fit.freedom) * level_sd(share, fit);
  return share;
}

void tell_scatter(FeedVerdict& verdict, LinearFit const& fit) {
  verdict.scatter = fit.residual_sd() / verdict.delivered_factor;
  SdFactors const factors = sd_factors_of_95_percent(fit.freedom);
  verdict.scatter_low = factors.low * verdict.scatter;
  verdict.scatter_high = factors.high * verdict.scatter;
  double squares = 0, cups = 0;
  for (FlowShare const& share : verdict.flows) {
    squares += share.cups * std::pow(share.scale_scatter, 2);
    cups += share.cups;
  }
  verdict.scale_scatter = std::sqrt(squares / cups);
  verdict.own_scatter = std::sqrt(std::max(0.0, std::pow(verdict.scatter, 2) - squares / cups));
}

// Mean over the flows, each as likely in a print; their differences count as uncertainty of the one
// factor that a profile holds.
void tell_factor(FeedVerdict& verdict, LinearFit const& fit, FeedJudgeOptions const& options) {
  auto const flows = static_cast<double>(verdict.flows.size());
  double variance = 0, between = 0;
  for (FlowShare const& share : verdict.flows) {
    variance += std::pow(level_sd(share, fit) / flows, 2);
    between += std::pow(share.delivered_factor - verdict.delivered_factor, 2);
  }
  verdict.plus_minus = t_of_95_percent(fit.freedom) * std::sqrt(variance);
  bool const differ = verdict.flow_test.p < significant_p;
  double const spread = differ ? between / (flows - 1) : 0;
  double const density =
      verdict.delivered_factor * options.density_sd_g_cm3 / options.density_g_cm3;
  verdict.cups_sd = std::sqrt(variance);
  verdict.flows_sd = std::sqrt(spread);
  verdict.density_sd = density;
  verdict.delivered_factor_sd = std::sqrt(variance + spread + density * density);
}

void tell_drift(FeedVerdict& verdict, LinearFit const& fit, std::vector<CupShare> const& cups) {
  double const run = cups.back().reading.number - cups.front().reading.number;
  double const scale = run / verdict.delivered_factor;
  std::size_t const slope = fit.coefficients.size() - 1;
  verdict.drift = fit.coefficients[slope] * scale;
  verdict.drift_plus_minus = t_of_95_percent(fit.freedom) * fit.standard_errors[slope] * scale;
  verdict.drift_test = test_coefficient(fit, slope);
}

// Takes the cups above `fed_up_to` out of `cups`.
std::vector<CupShare> take_out_above(std::vector<CupShare>& cups, double fed_up_to_mm3_s) {
  auto const above = std::stable_partition(cups.begin(), cups.end(), [&](CupShare const& cup) {
    return cup.reading.flow_mm3_s <= fed_up_to_mm3_s;
  });
  std::vector<CupShare> taken(above, cups.end());
  cups.erase(above, cups.end());
  return taken;
}

bool starve(std::optional<ChangePoint> const& change) {
  return change && change->arrived_share < starved_share;
}

struct Parted {
  std::vector<CupShare> fed, starved;
  std::optional<ChangePoint> change;
};

bool among(std::vector<OddCup> const& odd, CupShare const& cup) {
  return std::ranges::any_of(
      odd, [&](OddCup const& o) { return o.reading.number == cup.reading.number; });
}

// Takes out of `starved` what is odd among them and was odd among all: a dozen cups alone would
// call too many odd, and beside fed cups that scatter less so would all.
void take_out_odd_starved(std::vector<CupShare>& starved,
                          std::vector<OddCup> const& odd_among_all,
                          double scale_g,
                          std::vector<OddCup>& odd) {
  std::vector<CupShare> trimmed = starved;
  std::vector<OddCup> own = take_out_odd_cups(trimmed, scale_g);
  std::erase_if(own,
                [&](OddCup const& o) { return !among(odd_among_all, {.reading = o.reading}); });
  std::erase_if(starved, [&](CupShare const& cup) { return among(own, cup); });
  odd.insert(odd.end(), own.begin(), own.end());
}

// Cups that starve scatter unlike those that are fed, so each kind is searched for odd ones by
// itself; to know the kinds, all are searched together first.
Parted part_cups(std::vector<CupShare> const& cups,
                 Sheet const& sheet,
                 FeedJudgeOptions const& options,
                 std::vector<OddCup>& odd) {
  Parted parted{.fed = cups, .starved = {}, .change = {}};
  std::vector<OddCup> const odd_among_all = take_out_odd_cups(parted.fed, options.scale_g);
  odd = odd_among_all;
  parted.change = find_change(parted.fed, flows_in(parted.fed), options.burst_mm3, sheet);
  if (!starve(parted.change)) return parted;
  double const fed_up_to = flows_in(parted.fed)[parted.change->fed_flows - 1];
  parted.fed = cups;
  parted.starved = take_out_above(parted.fed, fed_up_to);
  odd = take_out_odd_cups(parted.fed, options.scale_g);
  take_out_odd_starved(parted.starved, odd_among_all, options.scale_g, odd);
  std::vector<CupShare> all = parted.fed;
  all.insert(all.end(), parted.starved.begin(), parted.starved.end());
  parted.change = find_change(all, flows_in(all), options.burst_mm3, sheet);
  if (starve(parted.change)) return parted;
  parted.fed = std::move(all);
  std::ranges::sort(parted.fed, {}, [](CupShare const& cup) { return cup.reading.number; });
  parted.starved.clear();
  return parted;
}

void tell_starvation(FeedVerdict& verdict, Parted const& parted, FeedJudgeOptions const& options) {
  if (!parted.change) return;
  ChangePoint const& change = *parted.change;
  verdict.may_starve = !starve(change);
  if (verdict.may_starve) return;
  double const level = change.level_mm3_s;
  double const density = options.density_sd_g_cm3 / options.density_g_cm3;
  CupReading const& cup = parted.starved.front().reading;
  double const store_sd = options.burst_sd_mm3 * cup.flow_mm3_s / cup.commanded_mm3;
  verdict.starvation =
      Starvation{.max_flow_mm3_s = level,
                 .plus_minus = t_of_95_percent(change.freedom) * level * change.level_share_sd,
                 .sd = std::sqrt(std::pow(level * change.level_share_sd, 2) +
                                 std::pow(level * density, 2) + store_sd * store_sd),
                 .test = change.test};
}

// Each flow that starves by itself: they share no drift with those that are fed.
void add_starved_flows(std::vector<CupShare> const& starved,
                       FeedJudgeOptions const& options,
                       FeedVerdict& verdict) {
  for (double const flow : flows_in(starved)) {
    std::vector<double> shares;
    FlowShare share{.flow_mm3_s = flow, .starves = true};
    double scale = 0;
    for (CupShare const& cup : starved) {
      if (cup.reading.flow_mm3_s != flow) continue;
      shares.push_back(cup.share);
      scale += std::pow(scale_scatter(cup.reading, options), 2);
    }
    share.cups = static_cast<int>(shares.size());
    share.scale_scatter = std::sqrt(scale / share.cups);
    for (double const value : shares) share.delivered_factor += value / share.cups;
    share.plus_minus = share.scatter = std::numeric_limits<double>::quiet_NaN();
    if (share.cups > 1) {
      std::vector<std::vector<double>> const level{std::vector<double>(shares.size(), 1.0)};
      LinearFit const fit = fit_linear(shares, level);
      share.plus_minus = t_of_95_percent(fit.freedom) * fit.standard_errors[0];
      share.scatter = fit.residual_sd() / share.delivered_factor;
    }
    verdict.flows.push_back(share);
  }
}

// Where the greatest flow brings less of what is asked than slower ones, by more than calipers
// resolve: what is delivered at the greatest flow that does not.
void tell_fed_evenly(FeedVerdict& verdict) {
  if (verdict.flow_test.p >= significant_p) return;
  double most = 0;
  std::optional<double> evenly;
  for (FlowShare const& flow : verdict.flows) {
    most = std::max(most, flow.delivered_factor);
    bool const short_of = flow.delivered_factor < (1 - verdict.resolved) * most;
    if (short_of) {
      verdict.fed_evenly_mm3_s = evenly;
      return;
    }
    evenly = flow.delivered_factor * flow.flow_mm3_s;
  }
}

FeedLevel level_of(FeedVerdict const& verdict) {
  if (verdict.scale_scatter > verdict.resolved) return FeedLevel::cannot_tell;
  bool const drifts = verdict.drift_test.p < significant_p;
  double const worst = std::max(verdict.own_scatter, drifts ? std::abs(verdict.drift) : 0.0);
  if (worst > verdict.resolved) return FeedLevel::wanders;
  bool const by_flow = verdict.flow_test.p < significant_p &&
                       verdict.flow_spread > verdict.resolved * verdict.delivered_factor;
  if (by_flow) return FeedLevel::depends_on_flow;
  double const doubtful = std::max(worst, verdict.scale_scatter);
  bool const hiccups = verdict.odd_cups.size() > 1;
  return doubtful > verdict.resolved / 3 || hiccups ? FeedLevel::borderline : FeedLevel::even;
}

}  // namespace

namespace {

std::vector<CupShare> shares_of(std::vector<CupReading> const& readings, double density_g_cm3) {
  std::vector<CupShare> cups;
  for (CupReading const& reading : readings)
    cups.push_back({.reading = reading,
                    .share = 1000 * reading.mass_g / density_g_cm3 / reading.commanded_mm3});
  return cups;
}

}  // namespace

FeedVerdict judge_feed(std::vector<CupReading> const& readings,
                       Sheet const& sheet,
                       FeedJudgeOptions const& given) {
  FeedJudgeOptions options = given;
  options.scale_g = std::max(given.scale_g, written_step_g(readings));
  assert(options.density_g_cm3 > 0 && options.bead_width_mm > 0);
  FeedVerdict verdict{.cups = static_cast<int>(readings.size())};
  std::vector<CupShare> cups = shares_of(readings, options.density_g_cm3);
  check_count(cups.size(), flows_in(cups).size(), sheet);
  check_scale(readings, sheet, options);
  Parted parted = part_cups(cups, sheet, options, verdict.odd_cups);
  cups = std::move(parted.fed);
  std::vector<double> const flows = flows_in(cups);
  check_count(cups.size(), flows.size(), sheet);
  for (std::vector<CupShare> const* kind : {&std::as_const(cups), &std::as_const(parted.starved)})
    for (CupShare const& cup : *kind) check_reason(cup, flows.front(), sheet);

  Model const model = fit_model(cups, flows);
  LinearFit const& fit = model.levels_and_drift;
  for (std::size_t i = 0; i < flows.size(); ++i) {
    verdict.flows.push_back(flow_share(cups, flows[i], i, fit, options));
    verdict.delivered_factor += fit.coefficients[i] / static_cast<double>(flows.size());
  }
  if (flows.size() > 1) verdict.flow_test = test_nested(model.one_level_and_drift, fit);
  auto const [least, most] = std::ranges::minmax(verdict.flows, {}, &FlowShare::delivered_factor);
  verdict.flow_spread = most.delivered_factor - least.delivered_factor;
  verdict.resolved = options.caliper_mm / options.bead_width_mm;
  tell_scatter(verdict, fit);
  tell_factor(verdict, fit, options);
  tell_drift(verdict, fit, cups);
  verdict.scale_g = options.scale_g;
  tell_fed_evenly(verdict);
  verdict.level = level_of(verdict);
  verdict.fed_mm3_s = verdict.flows.back().delivered_factor * flows.back();
  tell_starvation(verdict, parted, options);
  add_starved_flows(parted.starved, options, verdict);
  return verdict;
}

}  // namespace meltlag::fit
