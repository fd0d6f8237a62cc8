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
  for (std::size_t i = 0; i < bead.size(); ++i) {
    BeadPlace& place = bead[i];
    const double half = melt_pool_mm / 2;
    const double out = print.until(place.way_mm + half) - print.until(place.way_mm - half);
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
  return bead;
}

}  // namespace meltlag_reference
