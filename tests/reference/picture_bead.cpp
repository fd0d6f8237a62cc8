// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <random>

#include "picture.hpp"

namespace meltlag_reference {
namespace {

constexpr double pi = 3.14159265358979323846;
constexpr double melt_pool_mm = 0.8;  // the nozzle's mouth: plastic is laid over this length
constexpr double rough_mm = 0.5;

// Noise of sd 1 that is alike over about `length` samples: white noise, averaged twice.
std::vector<double> smooth_noise(std::size_t count, double length, std::mt19937& random) {
  std::normal_distribution<double> normal;
  std::vector<double> a(count), b(count);
  for (double& v : a) v = normal(random);
  const auto half = static_cast<std::ptrdiff_t>(std::max(1.0, length / 2));
  for (int pass = 0; pass < 2; ++pass) {
    double sum = 0;
    std::ptrdiff_t from = 0, to = 0;
    const auto n = static_cast<std::ptrdiff_t>(count);
    for (std::ptrdiff_t i = 0; i < n; ++i) {
      for (; to < std::min(n, i + half + 1); ++to) sum += a[static_cast<std::size_t>(to)];
      for (; from < i - half; ++from) sum -= a[static_cast<std::size_t>(from)];
      b[static_cast<std::size_t>(i)] = sum / static_cast<double>(to - from);
    }
    std::swap(a, b);
  }
  double square = 0;
  for (double v : a) square += v * v;
  const double sd = std::sqrt(square / static_cast<double>(std::max<std::size_t>(1, count)));
  for (double& v : a) v /= sd > 0 ? sd : 1;
  return a;
}

// Height of the first layer over a bed with a slope and a bow.
double height_at(double x, double y, const BeadOptions& options) {
  const double slope = 0.5 * (x - 100) / 90 - 0.3 * (y - 100) / 90;
  const double bow = 0.4 * (((x - 100) * (x - 100) + (y - 100) * (y - 100)) / 8100 - 0.5);
  return options.height_mm + options.uneven_mm * (slope + bow);
}

double width_of(double section, double height) {
  if (section <= 0) return 0;
  const double flat = section / height + (1 - pi / 4) * height;
  // A strand that does not fill the gap under the nozzle is a round one.
  return flat >= height ? flat : std::min(height, 2 * std::sqrt(section / pi));
}

// What left the nozzle while the head stood, by its way.
struct Stand {
  double way_mm, volume_mm3;
};

std::vector<Stand> stands_of(const Print& print) {
  std::vector<Stand> out;
  for (std::size_t i = 1; i < print.way_mm.size(); ++i) {
    const double more = print.out_mm3[i] - print.out_mm3[i - 1];
    if (print.way_mm[i] - print.way_mm[i - 1] > 1e-9 || more <= 0) continue;
    if (!out.empty() && print.way_mm[i] - out.back().way_mm < 1e-9)
      out.back().volume_mm3 += more;
    else
      out.push_back({print.way_mm[i], more});
  }
  return out;
}

// Of a disc as high as the layer that holds the volume beside a bead that ends in its middle with a
// round end: what strips of the disc the bead leaves free, summed; by halving.
double disc_radius(double volume, double bead_mm, double height) {
  const auto beside = [&](double r) {
    double area = 0;
    const int strips = 400;
    for (int i = 0; i < strips; ++i) {
      const double x = r * (2 * (i + 0.5) / strips - 1), b = bead_mm / 2;
      const double disc = std::sqrt(r * r - x * x);
      const double bead = x < 0 ? b : (x < b ? std::sqrt(b * b - x * x) : 0);
      area += 2 * std::max(0.0, disc - bead) * 2 * r / strips;
    }
    return area;
  };
  double low = bead_mm / 2, high = 20;
  for (int i = 0; i < 40; ++i) {
    const double middle = (low + high) / 2;
    (beside(middle) * height > volume ? high : low) = middle;
  }
  return low;
}

// Ends and corners are round.
void round_corners(std::vector<BeadPlace>& bead) {
  for (std::size_t i = 5; i + 1 < bead.size(); ++i) {
    const bool straight = bead[i].nx * bead[i + 1].nx + bead[i].ny * bead[i + 1].ny > 0.5;
    if (!straight) bead[i].blob_mm = bead[i - 5].width_mm() / 2;
  }
}

// The nearest place gets the disc; the bead beside it is the one before.
void lay_blobs(const std::vector<Stand>& stands, std::vector<BeadPlace>& bead) {
  constexpr double least_mm3 = 0.01, near_mm = 0.2, before_mm = 0.5;
  for (const Stand& stand : stands) {
    auto at = std::lower_bound(bead.begin(), bead.end(), stand.way_mm, [](auto& place, double way) {
      return place.way_mm < way;
    });
    if (stand.volume_mm3 < least_mm3 || at == bead.begin()) continue;
    --at;  // the last place before the stand
    if (stand.way_mm - at->way_mm > near_mm) continue;
    auto before = at;
    while (before != bead.begin() && at->way_mm - before->way_mm < before_mm) --before;
    at->blob_mm = disc_radius(stand.volume_mm3, before->width_mm(), at->height_mm);
  }
}

std::vector<BeadPlace> places_of(const HeadMotion& motion, double step) {
  std::vector<BeadPlace> out;
  const std::vector<Move>& moves = motion.program.moves;
  std::size_t first = moves.size(), last = 0;
  for (std::size_t i = 0; i < moves.size(); ++i)
    if (moves[i].kind == MoveKind::print) {
      first = std::min(first, i);
      last = i;
    }
  for (std::size_t i = first; i <= last && i < moves.size(); ++i) {
    const Move& move = moves[i];
    if (move.kind == MoveKind::e_only || move.length_mm <= 0) continue;
    const double dx = (move.end_mm[0] - move.start_mm[0]) / move.length_mm;
    const double dy = (move.end_mm[1] - move.start_mm[1]) / move.length_mm;
    const int count = std::max(1, static_cast<int>(std::lround(move.length_mm / step)));
    for (int k = 0; k < count; ++k) {
      const double at = move.length_mm * (k + 0.5) / count;
      BeadPlace place;
      place.way_mm = motion.way_mm[i] + at;
      place.x_mm = move.start_mm[0] + dx * at;
      place.y_mm = move.start_mm[1] + dy * at;
      place.nx = -dy;
      place.ny = dx;
      place.prints = move.kind == MoveKind::print;
      place.line = move.line;
      out.push_back(place);
    }
  }
  return out;
}

}  // namespace

std::vector<BeadPlace> lay_bead(const HeadMotion& motion,
                                const Print& print,
                                const BeadOptions& options) {
  std::vector<BeadPlace> bead = places_of(motion, options.step_mm);
  std::mt19937 random(options.seed);
  const double rough = rough_mm / options.step_mm;
  const std::vector<double> left = smooth_noise(bead.size(), rough, random);
  const std::vector<double> right = smooth_noise(bead.size(), rough, random);
  // Places of equal length are passed at about the medium speed of the piece.
  const double places_of_wander = options.wander_s * 14 / options.step_mm;
  const std::vector<double> wander = smooth_noise(bead.size(), places_of_wander, random);
  const std::vector<Stand> stands = stands_of(print);
  auto stand = stands.begin();
  for (std::size_t i = 0; i < bead.size(); ++i) {
    BeadPlace& place = bead[i];
    const double half = melt_pool_mm / 2;
    double out = print.until(place.way_mm + half) - print.until(place.way_mm - half);
    // What left at rest is no part of the strand.
    while (stand != stands.end() && stand->way_mm <= place.way_mm - half) ++stand;
    for (auto s = stand; s != stands.end() && s->way_mm <= place.way_mm + half; ++s)
      out -= s->volume_mm3;
    const double section = out / melt_pool_mm * (1 + options.wander_share * wander[i]);
    place.height_mm = height_at(place.x_mm, place.y_mm, options);
    const double width = width_of(section, place.height_mm);
    place.left_mm = std::max(0.0, width / 2 + (width > 0 ? options.roughness_mm * left[i] : 0));
    place.right_mm = std::max(0.0, width / 2 + (width > 0 ? options.roughness_mm * right[i] : 0));
    place.there = !(place.way_mm >= options.lost_from_mm && place.way_mm < options.lost_to_mm);
    if (place.way_mm >= options.loose_from_mm && place.way_mm < options.loose_to_mm) {
      const double part =
          (place.way_mm - options.loose_from_mm) / (options.loose_to_mm - options.loose_from_mm);
      place.shift_mm = options.loose_by_mm * std::sin(pi * part);
    }
  }
  round_corners(bead);
  lay_blobs(stands, bead);
  return bead;
}

}  // namespace meltlag_reference
