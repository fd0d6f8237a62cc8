// SPDX-License-Identifier: MIT
#include "meltlag/compare/scatter.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cassert>
#include <cmath>

namespace meltlag::compare {
namespace {

constexpr double z95 = 1.959963984540054;  // of the normal distribution, two-sided
constexpr double least_pivot = 1e-8;       // of a scaled matrix: below, slopes look alike

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
  auto const rows = static_cast<Eigen::Index>(offs.size());
  auto const width = static_cast<Eigen::Index>(m);
  Eigen::Map<Eigen::VectorXd const> const sd(sds.data(), rows);
  Eigen::VectorXd const off =
      Eigen::Map<Eigen::VectorXd const>(offs.data(), rows).cwiseQuotient(sd);
  out.chi2_before = out.chi2_after = off.squaredNorm();
  if (m == 0 || rows <= width) return out;
  Eigen::MatrixXd design(rows, width);
  for (std::size_t j = 0; j < m; ++j)
    design.col(static_cast<Eigen::Index>(j)) =
        Eigen::Map<Eigen::VectorXd const>(slopes[j].data(), rows).cwiseQuotient(sd);
  Eigen::VectorXd const scale = design.colwise().norm();
  if (!(scale.minCoeff() > 0)) return out;
  Eigen::MatrixXd const scaled = design * scale.cwiseInverse().asDiagonal();
  Eigen::LLT<Eigen::MatrixXd> const factored(scaled.transpose() * scaled);
  if (factored.info() != Eigen::Success) return out;
  Eigen::VectorXd const pivots = Eigen::MatrixXd(factored.matrixL()).diagonal().cwiseAbs2();
  if (!(pivots.minCoeff() > least_pivot)) return out;
  Eigen::VectorXd const b = factored.solve(scaled.transpose() * off);
  Eigen::MatrixXd const inverse = factored.solve(Eigen::MatrixXd::Identity(width, width));
  out.chi2_after = (off - scaled * b).squaredNorm();
  double const widen = std::sqrt(std::max(1.0, out.chi2_after / static_cast<double>(rows - width)));
  for (std::size_t j = 0; j < m; ++j) {
    auto const at = static_cast<Eigen::Index>(j);
    out.b[j] = b[at] / scale[at];
    out.sd[j] = widen * std::sqrt(inverse(at, at)) / scale[at];
  }
  out.determined = true;
  return out;
}

}  // namespace meltlag::compare
