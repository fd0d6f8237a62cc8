// SPDX-License-Identifier: MIT
#include "edges.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>

namespace meltlag::scan {
namespace {

constexpr double plateau_from_mm = 0.12, plateau_to_mm = 0.36;  // from the edge, both ways
constexpr double window_in_mm = 0.18, window_out_mm = 0.3;
constexpr Colour brightness{
    0.299, 0.587, 0.114, 0.299, 0.587, 0.114};  // of a JPEG's colours (ITU-T T.871)
constexpr double bright_share = 0.2;
constexpr double search_mm = 0.12;
constexpr double least_edge_contrast = 10;
constexpr double slope_sd = 20;  // per mm, beforehand, of both levels: a share of the contrast
constexpr double bend_sd = 1;    // per mm²

// Φ by linear interpolation of a table; its error is far below what pixels scatter.
double normal_share(double z) {
  static std::vector<double> const table = [] {
    std::vector<double> out;
    for (int i = 0; i <= 1024; ++i)
      out.push_back(0.5 * std::erfc(-(i / 128.0 - 4) / std::sqrt(2.0)));
    return out;
  }();
  double const at = (std::clamp(z, -3.999, 3.999) + 4) * 128;
  auto const i = static_cast<std::size_t>(at);
  return table[i] + (at - static_cast<double>(i)) * (table[i + 1] - table[i]);
}

// Light from a half-round flank, dull and lit from above, over that from the flat top; `deep` from
// its edge, in units of its radius. At the edge itself 30 % less: between light from all around and
// light from above alone (common sense, no source). What a plastic or a lamp does otherwise is left
// in the offset of the edges, which the fit leaves free.
double flank_light(double deep) {
  constexpr double less_at_edge = 0.3;
  double const lean = std::max(0.0, 1 - deep);
  return 1 - less_at_edge * (1 - std::sqrt(1 - lean * lean));
}

// Least squares of the levels for a step at `at_mm`; returns the sum of squares.
template <class Rows>
double misfit(
    Rows const& rows, double at_mm, double blur_mm, SmearedFlank const& lit, double own_light) {
  constexpr int levels = 5;
  using Levels = Eigen::Vector<double, levels>;
  // Summed in plain arrays: sanitizers see into each of Eigen's calls.
  double normal[levels][levels] = {}, right[levels] = {};
  double squares = 0;
  double const noise = 0.02;  // of a row, for the weight of what is held beforehand
  normal[1][1] += noise * noise / (slope_sd * slope_sd);
  normal[2][2] += noise * noise / (bend_sd * bend_sd);
  normal[4][4] += noise * noise / (slope_sd * slope_sd);
  for (auto const& row : rows) {
    double const in_mm = at_mm - row.out_mm;
    double const inside = normal_share(in_mm / blur_mm), deep = std::max(0.0, in_mm);
    double const beyond = std::max(0.0, -in_mm);
    double const a[levels] = {inside - own_light * (inside - lit.at(in_mm)),
                              inside * deep,
                              inside * deep * deep,
                              1 - inside,
                              (1 - inside) * beyond};
    for (int i = 0; i < levels; ++i) {
      for (int j = i; j < levels; ++j) normal[i][j] += a[i] * a[j];
      right[i] += row.level * a[i];
    }
    squares += row.level * row.level;
  }
  // By columns, so that what was filled is the lower half.
  Eigen::Map<Eigen::Matrix<double, levels, levels> const> const lower(&normal[0][0]);
  Eigen::LDLT<Eigen::Matrix<double, levels, levels>, Eigen::Lower> const factor(lower);
  Eigen::Map<Levels const> const sums(right);
  Levels const x = factor.solve(sums);
  return std::max(0.0, squares - sums.dot(x));
}

// The least of a function of one valley, by the golden section, then by a parabola.
template <class Function>
double least_of(Function const& f, double low, double high) {
  constexpr double part = 0.381966;
  double a = low + part * (high - low), b = high - part * (high - low);
  double fa = f(a), fb = f(b);
  while (high - low > 0.004) {
    if (fa < fb) {
      high = b;
      b = a;
      fb = fa;
      a = low + part * (high - low);
      fa = f(a);
    } else {
      low = a;
      a = b;
      fa = fb;
      b = high - part * (high - low);
      fb = f(b);
    }
  }
  double const middle = (low + high) / 2, h = 0.004;
  double const below = f(middle - h), here = f(middle), above = f(middle + h);
  double const bend = above - 2 * here + below;
  if (bend <= 0) return middle;
  return middle - std::clamp((above - below) / (2 * bend), -2.0, 2.0) * h;
}

}  // namespace

SmearedFlank::SmearedFlank(double blur_mm, double flank_mm) {
  constexpr double step = 0.05;  // of the Gaussian's sd
  for (int i = 0; i <= 2 * reach_steps; ++i) {
    double const in_mm = (i - reach_steps) * step_mm;
    double sum = 0, weights = 0;
    for (double z = -4; z <= 4; z += step) {
      double const weight = std::exp(-z * z / 2), deep = in_mm + z * blur_mm;
      weights += weight;
      if (deep > 0) sum += weight * flank_light(deep / flank_mm);
    }
    table_.push_back(sum / weights);
  }
}

double SmearedFlank::at(double in_mm) const {
  double const place = std::clamp(in_mm / step_mm, -reach_steps + 0.001, reach_steps - 0.001);
  auto const i = static_cast<std::size_t>(place + reach_steps);
  double const part = place + reach_steps - static_cast<double>(i);
  return table_[i] + part * (table_[i + 1] - table_[i]);
}

Colour EdgeFitter::mean_colour(std::size_t point, double from_mm, double to_mm) const {
  if (from_mm > to_mm) std::swap(from_mm, to_mm);
  double const last = static_cast<double>(profiles_.count - 1);
  auto const index = [&](double mm) {
    return static_cast<std::size_t>(
        std::clamp(std::round((mm + profiles_.half_mm) / profiles_.step_mm), 0.0, last));
  };
  Colour sum{};
  std::size_t const from = index(from_mm), to = index(to_mm);
  for (std::size_t k = from; k <= to; ++k)
    for (std::size_t c = 0; c < profiles_.channels; ++c) sum[c] += profiles_.of(point, k)[c];
  for (double& channel : sum) channel /= static_cast<double>(to - from + 1);
  return sum;
}

std::vector<EdgeFitter::Row> EdgeFitter::project(std::size_t point,
                                                 EdgeLook const& look,
                                                 Edge& edge) const {
  double const s = look.sign, e = s * look.coarse_mm;  // outward
  double const deep = std::max(std::min(plateau_to_mm, look.room_mm), plateau_from_mm + 0.03);
  edge.inside = mean_colour(point, s * (e - deep), s * (e - std::min(plateau_from_mm, deep / 2)));
  Colour const outside = mean_colour(point, s * (e + plateau_from_mm), s * (e + plateau_to_mm));
  Colour way{};
  double square = 0, bright = 0;
  for (std::size_t c = 0; c < profiles_.channels; ++c) {
    way[c] = edge.inside[c] - outside[c];
    square += way[c] * way[c];
    bright += brightness[c] * way[c];
  }
  edge.contrast = std::sqrt(square);
  // Where colours are blurred, brightness alone is looked at if both sides differ enough in it.
  if (profiles_.coarse_colour && std::abs(bright) > bright_share * edge.contrast) {
    square = bright;
    way = brightness;
  }
  std::vector<Row> rows;
  if (edge.contrast < least_edge_contrast) return rows;
  // Less light on the flank scales the bead's own colour: on a dark background it takes contrast
  // away, on a light one it adds some.
  edge.own_light = 0;
  for (std::size_t c = 0; c < profiles_.channels; ++c)
    edge.own_light += edge.inside[c] * way[c] / square;
  double const in_mm = std::min(window_in_mm, look.room_mm);
  for (std::size_t k = 0; k < profiles_.count; ++k) {
    double const out = s * profiles_.at(static_cast<double>(k)) - e;
    if (out < -in_mm || out > window_out_mm) continue;
    double sum = 0;
    for (std::size_t c = 0; c < profiles_.channels; ++c)
      sum += (profiles_.of(point, k)[c] - outside[c]) * way[c];
    rows.push_back({out, sum / square});
  }
  return rows;
}

std::optional<Edge> EdgeFitter::fit(std::size_t point, EdgeLook const& look) const {
  Edge edge;
  std::vector<Row> const rows = project(point, look, edge);
  if (rows.size() < 8) return {};
  auto const cost = [&](double at) { return misfit(rows, at, blur_mm_, lit_, edge.own_light); };
  double const at = least_of(cost, -search_mm, search_mm);
  edge.misfit = std::sqrt(cost(at) / static_cast<double>(rows.size()));
  edge.at_mm = look.coarse_mm + look.sign * at;
  return edge;
}

double find_blur(Profiles const& profiles,
                 std::vector<EdgeAt> const& edges,
                 double pixel_mm,
                 double flank_mm) {
  double best = pixel_mm, least = std::numeric_limits<double>::infinity();
  for (double share = 0.3; share < 2.6; share *= 1.12) {
    EdgeFitter const fitter(profiles, share * pixel_mm, flank_mm);
    double sum = 0;
    for (EdgeAt const& edge : edges)
      if (auto const found = fitter.fit(edge.point, edge.look))
        sum += std::min(0.01, found->misfit * found->misfit);
    if (sum < least) {
      least = sum;
      best = share * pixel_mm;
    }
  }
  return best;
}

}  // namespace meltlag::scan
