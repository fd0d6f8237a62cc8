// SPDX-License-Identifier: MIT
#include "map_labels.hpp"

#include <algorithm>
#include <cassert>
#include <numeric>

namespace meltlag::page {
namespace {

// Labels that touch each other: they stand as one, centred on the mean of what they want.
struct Cluster {
  std::size_t first, count;
  double offset_sum_mm;  // of what each label wants of the cluster's left edge
  double width_mm;

  [[nodiscard]] double left_mm(double low_mm, double high_mm) const {
    double const left = offset_sum_mm / static_cast<double>(count);
    return std::max(low_mm, std::min(left, high_mm - width_mm));
  }
};

void merge(Cluster& into, Cluster const& next) {
  into.offset_sum_mm += next.offset_sum_mm - into.width_mm * static_cast<double>(next.count);
  into.width_mm += next.width_mm;
  into.count += next.count;
}

}  // namespace

void spread(std::vector<Label>& labels, double low_mm, double high_mm) {
  assert(low_mm < high_mm);
  std::vector<std::size_t> order(labels.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return labels[a].wanted_mm < labels[b].wanted_mm;
  });
  double total_mm = 0;
  for (Label const& label : labels) total_mm += label.width_mm;
  double const squeeze = std::min(1.0, (high_mm - low_mm) / std::max(total_mm, 1e-9));
  std::vector<Cluster> clusters;
  for (std::size_t i = 0; i < order.size(); ++i) {
    double const width_mm = labels[order[i]].width_mm * squeeze;
    clusters.push_back({i, 1, labels[order[i]].wanted_mm - width_mm / 2, width_mm});
    while (clusters.size() > 1) {
      Cluster& before = clusters[clusters.size() - 2];
      double const end_mm = before.left_mm(low_mm, high_mm) + before.width_mm;
      if (clusters.back().left_mm(low_mm, high_mm) >= end_mm) break;
      merge(before, clusters.back());
      clusters.pop_back();
    }
  }
  for (Cluster const& cluster : clusters) {
    double left_mm = cluster.left_mm(low_mm, high_mm);
    for (std::size_t i = cluster.first; i < cluster.first + cluster.count; ++i) {
      Label& label = labels[order[i]];
      label.at_mm = left_mm + label.width_mm * squeeze / 2;
      left_mm += label.width_mm * squeeze;
    }
  }
}

}  // namespace meltlag::page
