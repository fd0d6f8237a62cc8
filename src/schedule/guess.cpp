// SPDX-License-Identifier: MIT
#include "meltlag/schedule/guess.hpp"

#include <algorithm>
#include <limits>

#include "meltlag/schedule/demand.hpp"

namespace meltlag::schedule {
namespace {

// All of the way to the steady run-on overshoots where limits hold; less, and rounds find the rest.
constexpr double share_of_way = 0.5;
// Of what the screw feeds for long: who wants more had better not be asked for still more.
constexpr double share_of_feed = 0.8;

double delivered_per_rate(Problem const& problem, Cut const& cut) {
  return path_mm(problem, cut) * problem.feed.area_mm2() * problem.feed.delivered_factor;
}

// The flow at the end of cut `i`; none where nothing is wanted before it or behind.
double flow_behind(std::vector<CutDemand> const& demand, std::size_t i) {
  double const here = demand[i].mm3_s;
  double const next = i + 1 < demand.size() ? demand[i + 1].mm3_s : here;
  return here > 0 && next > 0 ? (here + next) / 2 : 0;
}

}  // namespace

void guess_rates(Problem const& problem, std::vector<double>& rates) {
  std::vector<CutDemand> const demand = find_demand(problem);
  double const most = share_of_feed * problem.supply.max_flow_mm3_s;
  if (std::ranges::any_of(demand, [&](CutDemand const& cut) { return cut.mm3_s > most; })) return;
  double run_on = problem.start_run_on_mm3;
  double before = problem.rate_before.value_or(0);
  double jump = problem.rate_before ? problem.jump_before : std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    double const steady = melt::run_on_at_flow(problem.laws[cut.law], flow_behind(demand, i));
    double const per_rate = delivered_per_rate(problem, cut);
    if (!cut.fixed && demand[i].mm3_s > 0 && per_rate > 0) {
      double const wanted = (demand[i].mm3_s * demand[i].duration_s + steady - run_on) / per_rate;
      double const rate = rates[i] + share_of_way * (wanted - rates[i]);
      rates[i] =
          std::clamp(std::clamp(rate, before - jump, before + jump), cut.rate_low, cut.rate_high);
    }
    run_on = steady;
    before = rates[i];
    jump = cut.jump_to_next;
  }
}

}  // namespace meltlag::schedule
