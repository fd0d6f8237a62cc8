// SPDX-License-Identifier: MIT
#include "meltlag/melt/residence_time.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::melt {
namespace {

double fastest_share(double n) { return (3 * n + 1) / (n + 1); }  // c: v(0)/v_mean

}  // namespace

double shortest_residence_s(LaminarResidence const& residence) {
  return residence.mean_s / fastest_share(residence.flow_index);
}

double share_out_by(LaminarResidence const& residence, double time_s) {
  double const n = residence.flow_index, c = fastest_share(n), a = (n + 1) / n;
  if (time_s * c <= residence.mean_s) return 0;
  double const s = std::pow(1 - residence.mean_s / (c * time_s), 1 / a);
  return std::min(1.0, c * s * s * (1 - 2 * std::pow(s, a) / (a + 2)));
}

double residence_of_slowest_s(LaminarResidence const& residence, double share) {
  assert(share > 0 && share < 1);
  double low = shortest_residence_s(residence), high = 2 * low;
  while (1 - share_out_by(residence, high) > share) high *= 2;
  for (int i = 0; i < 100 && high - low > 1e-12 * high; ++i) {
    double const middle = (low + high) / 2;
    (1 - share_out_by(residence, middle) > share ? low : high) = middle;
  }
  return high;
}

double flush_mm3(Flush const& flush, double share_left) {
  return residence_of_slowest_s({flush.melt_volume_mm3, flush.flow_index}, share_left);
}

ResidenceFacts residence_facts(Flush const& barrel, double flow_mm3_s) {
  assert(flow_mm3_s > 0);
  LaminarResidence const residence{barrel.melt_volume_mm3 / flow_mm3_s, barrel.flow_index};
  return {.flow_mm3_s = flow_mm3_s,
          .mean_s = residence.mean_s,
          .shortest_s = shortest_residence_s(residence),
          .slow_s = residence_of_slowest_s(residence, slow_share),
          .flush_mm3 = flush_mm3(barrel, old_share)};
}

}  // namespace meltlag::melt
