// SPDX-License-Identifier: MIT
#include "rings_middle.hpp"

#include <algorithm>

namespace meltlag::scan {
namespace {

constexpr int rounds = 12;
constexpr double least_scale_mm = 0.02;

double distance(Ray const& ray, Place2 at) {
  Place2 const off = at - ray.from;
  return off.x * ray.along.y - off.y * ray.along.x;
}

double median_distance(std::vector<Ray> const& rays, Place2 at) {
  std::vector<double> all;
  for (Ray const& ray : rays) all.push_back(std::abs(distance(ray, at)));
  auto const middle = all.begin() + static_cast<std::ptrdiff_t>(all.size() / 2);
  std::nth_element(all.begin(), middle, all.end());
  return *middle;
}

}  // namespace

Place2 meeting_point(std::vector<Ray> const& rays, Place2 start) {
  Place2 at = start;
  bool first = true;  // without any idea of the place all count alike
  for (int round = 0; round < rounds; ++round, first = false) {
    double const scale = std::max(least_scale_mm, 2 * median_distance(rays, at));
    double xx = 1e-9, xy = 0, yy = 1e-9, bx = 0, by = 0;
    for (Ray const& ray : rays) {
      double const off = distance(ray, at) / scale;
      double const weight = first ? ray.weight : ray.weight / (1 + off * off);
      double const nx = ray.along.y, ny = -ray.along.x;
      double const c = nx * ray.from.x + ny * ray.from.y;
      xx += weight * nx * nx;
      xy += weight * nx * ny;
      yy += weight * ny * ny;
      bx += weight * nx * c;
      by += weight * ny * c;
    }
    double const det = xx * yy - xy * xy;
    at = {(yy * bx - xy * by) / det, (xx * by - xy * bx) / det};
  }
  return at;
}

}  // namespace meltlag::scan
