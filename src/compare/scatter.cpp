// SPDX-License-Identifier: MIT
#include "meltlag/compare/scatter.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::compare {
namespace {

constexpr double z95 = 1.959963984540054;  // of the normal distribution, two-sided
constexpr double least_pivot = 1e-8;       // of a scaled matrix: below, slopes look alike

using Matrix = std::vector<std::vector<double>>;

// Inverse of a symmetric positive matrix with ones on its diagonal; false where it has none.
bool invert(Matrix& a) {
  std::size_t const n = a.size();
  Matrix inverse(n, std::vector<double>(n, 0.0));
  for (std::size_t i = 0; i < n; ++i) inverse[i][i] = 1;
  for (std::size_t i = 0; i < n; ++i) {
    double const pivot = a[i][i];
    if (!(pivot > least_pivot)) return false;
    for (std::size_t k = 0; k < n; ++k) {
      a[i][k] /= pivot;
      inverse[i][k] /= pivot;
    }
    for (std::size_t r = 0; r < n; ++r) {
      double const factor = r == i ? 0 : a[r][i];
      for (std::size_t k = 0; k < n && factor != 0; ++k) {
        a[r][k] -= factor * a[i][k];
        inverse[r][k] -= factor * inverse[i][k];
      }
    }
  }
  a = std::move(inverse);
  return true;
}

double weighted(std::span<double const> a, std::span<double const> b, std::span<double const> sds) {
  double sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i] / (sds[i] * sds[i]);
  return sum;
}

}  // namespace

Offs offs_of(std::span<double const> offs) {
  Offs out{.count = offs.size()};
  if (offs.empty()) return out;
  auto const n = static_cast<double>(offs.size());
  // The mean is found in two rounds, so that a large constant costs no digits.
  for (double const off : offs) out.bias += off / n;
  double rest = 0, about = 0, squares = 0;
  for (double const off : offs) rest += (off - out.bias) / n;
  out.bias += rest;
  for (double const off : offs) {
    about += (off - out.bias) * (off - out.bias);
    squares += off * off;
  }
  out.rms = std::sqrt(squares / n);
  if (offs.size() > 1) out.bias_se = std::sqrt(about / (n - 1) / n);
  return out;
}

double share_explained(std::span<double const> offs, std::span<double const> offs_without) {
  double with = 0, without = 0;
  for (double const off : offs) with += off * off;
  for (double const off : offs_without) without += off * off;
  return without > 0 ? 1 - with / without : 0;
}

HitRate hit_rate(std::size_t hits, std::size_t of) {
  assert(hits <= of);
  HitRate out{.hits = hits, .of = of};
  if (of == 0) return out;
  auto const n = static_cast<double>(of);
  double const p = static_cast<double>(hits) / n, z2 = z95 * z95;
  double const middle = p + z2 / (2 * n);
  double const half = z95 * std::sqrt(p * (1 - p) / n + z2 / (4 * n * n));
  out.share = p;
  out.low = hits == 0 ? 0 : std::max(0.0, (middle - half) / (1 + z2 / n));
  out.high = hits == of ? 1 : std::min(1.0, (middle + half) / (1 + z2 / n));
  return out;
}

Slopes fit_slopes(std::span<double const> offs,
                  std::span<double const> sds,
                  std::vector<std::vector<double>> const& slopes) {
  std::size_t const m = slopes.size();
  Slopes out{.b = std::vector<double>(m, 0.0), .sd = std::vector<double>(m, 0.0)};
  out.chi2_before = out.chi2_after = weighted(offs, offs, sds);
  if (m == 0 || offs.size() <= m) return out;
  std::vector<double> scale(m);
  for (std::size_t j = 0; j < m; ++j) {
    scale[j] = std::sqrt(weighted(slopes[j], slopes[j], sds));
    if (!(scale[j] > 0)) return out;
  }
  Matrix a(m, std::vector<double>(m));
  for (std::size_t j = 0; j < m; ++j)
    for (std::size_t k = 0; k < m; ++k)
      a[j][k] = weighted(slopes[j], slopes[k], sds) / (scale[j] * scale[k]);
  if (!invert(a)) return out;
  for (std::size_t j = 0; j < m; ++j)
    for (std::size_t k = 0; k < m; ++k)
      out.b[j] += a[j][k] * weighted(slopes[k], offs, sds) / (scale[j] * scale[k]);
  std::vector<double> left(offs.begin(), offs.end());
  for (std::size_t i = 0; i < left.size(); ++i)
    for (std::size_t j = 0; j < m; ++j) left[i] -= out.b[j] * slopes[j][i];
  out.chi2_after = weighted(left, left, sds);
  double const spare = static_cast<double>(offs.size() - m);
  double const widen = std::sqrt(std::max(1.0, out.chi2_after / spare));
  for (std::size_t j = 0; j < m; ++j) out.sd[j] = widen * std::sqrt(a[j][j]) / scale[j];
  out.determined = true;
  return out;
}

}  // namespace meltlag::compare
