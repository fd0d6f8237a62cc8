// SPDX-License-Identifier: MIT
#include "ring_way.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "meltlag/testpiece/ring_piece.hpp"

namespace meltlag::testpiece::rings {
namespace {

constexpr double turn_rad = 2 * std::numbers::pi;
constexpr double golden_part = 2 - std::numbers::phi;
constexpr double least_gap_mm = 4;  // of a ring, between its end and its beginning
constexpr double least_gap_rad = 0.2, more_gap_rad = 0.5;

// Unlike from ring to ring, so that no turn and no mirror image brings all steps together.
double gap_rad(std::size_t index, double radius_mm) {
  double const part = static_cast<double>(index + 1) * golden_part;
  double const open = least_gap_rad + more_gap_rad * (part - std::floor(part));
  return std::max(open, least_gap_mm / radius_mm);
}

}  // namespace

Way::Way(std::vector<double> const& radii_mm) {
  double start = 0, from = 0;
  for (std::size_t i = 0; i < radii_mm.size(); ++i) {
    Ring ring{.radius_mm = radii_mm[i], .start_rad = start};
    ring.sweep_rad = turn_rad - gap_rad(i, ring.radius_mm);
    ring.from_mm = from;
    ring.to_mm = from + ring.sweep_rad * ring.radius_mm;
    start = std::fmod(start + ring.sweep_rad, turn_rad);
    from = ring.to_mm + (i + 1 < radii_mm.size() ? ring.radius_mm - radii_mm[i + 1] : 0);
    rings_.push_back(ring);
  }
}

Vec3 Way::on_ring(Ring const& ring, double way_mm) const {
  double const rad = ring.start_rad + (way_mm - ring.from_mm) / ring.radius_mm;
  return {ring.radius_mm * std::cos(rad), ring.radius_mm * std::sin(rad), 0};
}

int Way::ring_at(double way_mm) const {
  auto const next =
      std::upper_bound(rings_.begin(), rings_.end(), way_mm, [](double at, Ring const& r) {
        return at < r.from_mm;
      });
  return std::max(1, static_cast<int>(next - rings_.begin()));
}

Vec3 Way::at(double way_mm) const {
  auto const index = static_cast<std::size_t>(ring_at(way_mm) - 1);
  Ring const& ring = rings_[index];
  if (way_mm <= ring.to_mm || index + 1 == rings_.size()) return on_ring(ring, way_mm);
  Vec3 const from = on_ring(ring, ring.to_mm);
  double const inward = (way_mm - ring.to_mm) / ring.radius_mm;
  return (1 - inward) * from;
}

std::vector<Corner> Way::corners(double from_mm, double to_mm) const {
  std::vector<Corner> out;
  auto const add = [&](double at, int ring, bool joins) {
    if (at > from_mm + 1e-9 && at < to_mm - 1e-9) out.push_back({at, this->at(at), ring, joins});
  };
  for (std::size_t i = 0; i < rings_.size(); ++i) {
    Ring const& ring = rings_[i];
    int const number = static_cast<int>(i) + 1;
    double const chord_mm = std::sqrt(8 * sagitta_mm * ring.radius_mm);
    double const count = std::ceil((ring.to_mm - ring.from_mm) / chord_mm);
    if (i > 0) add(ring.from_mm, number - 1, true);
    for (double k = 1; k <= count; ++k)
      add(ring.from_mm + (ring.to_mm - ring.from_mm) * k / count, number, false);
  }
  int const last = ring_at(to_mm);
  bool const joins = to_mm > rings_[static_cast<std::size_t>(last - 1)].to_mm + 1e-9;
  out.push_back({to_mm, at(to_mm), last, joins});
  return out;
}

double Way::clear_of_joins(double way_mm, double clear_mm) const {
  for (std::size_t i = 0; i + 1 < rings_.size(); ++i) {
    double const from = rings_[i].to_mm - clear_mm, to = rings_[i + 1].from_mm + clear_mm;
    if (way_mm > from && way_mm < to) return to;
  }
  return way_mm;
}

std::vector<double> radii_from(double largest_mm) {
  std::vector<double> out;
  for (double r = largest_mm; r > smallest_ring_mm - 1e-9; r -= ring_pitch_mm) out.push_back(r);
  return out;
}

}  // namespace meltlag::testpiece::rings
