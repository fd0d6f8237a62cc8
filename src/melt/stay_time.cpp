// SPDX-License-Identifier: MIT
#include "meltlag/melt/stay_time.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::melt {
namespace {

double fastest_share(double n) { return (3 * n + 1) / (n + 1); }  // c: v(0)/v_mean

}  // namespace

double shortest_stay_s(LaminarStay const& stay) {
  return stay.mean_s / fastest_share(stay.flow_index);
}

double share_out_by(LaminarStay const& stay, double time_s) {
  double const n = stay.flow_index, c = fastest_share(n), a = (n + 1) / n;
  if (time_s * c <= stay.mean_s) return 0;
  double const s = std::pow(1 - stay.mean_s / (c * time_s), 1 / a);
  return std::min(1.0, c * s * s * (1 - 2 * std::pow(s, a) / (a + 2)));
}

double stay_of_slowest_s(LaminarStay const& stay, double share) {
  assert(share > 0 && share < 1);
  double low = shortest_stay_s(stay), high = 2 * low;
  while (1 - share_out_by(stay, high) > share) high *= 2;
  for (int i = 0; i < 100 && high - low > 1e-12 * high; ++i) {
    double const middle = (low + high) / 2;
    (1 - share_out_by(stay, middle) > share ? low : high) = middle;
  }
  return high;
}

double flush_mm3(Flush const& flush, double share_left) {
  return stay_of_slowest_s({flush.melt_volume_mm3, flush.flow_index}, share_left);
}

StayFacts stay_facts(Flush const& barrel, double flow_mm3_s) {
  assert(flow_mm3_s > 0);
  LaminarStay const stay{barrel.melt_volume_mm3 / flow_mm3_s, barrel.flow_index};
  return {.flow_mm3_s = flow_mm3_s,
          .mean_s = stay.mean_s,
          .shortest_s = shortest_stay_s(stay),
          .slow_s = stay_of_slowest_s(stay, slow_share),
          .flush_mm3 = flush_mm3(barrel, old_share)};
}

}  // namespace meltlag::melt
