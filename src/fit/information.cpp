// SPDX-License-Identifier: MIT
#include "information.hpp"

#include <Eigen/LU>
#include <cmath>

namespace meltlag::fit {
namespace {

// An error of the factor goes straight into every bead: it weighs as much as two of the lag law.
constexpr double factor_weight = 2;

}  // namespace

Information::Information(std::size_t traces, Eigen::Matrix3d const& beforehand, double height_sd_mm)
    : plain_(beforehand), effective_(beforehand), traces_(traces) {
  for (Trace& trace : traces_) trace.height = 1 / (height_sd_mm * height_sd_mm);
}

Eigen::Matrix3d Information::lost_to(Trace const& trace) const {
  return trace.both * trace.both.transpose() / trace.height;
}

void Information::change(Sensitivity const& reading, std::size_t trace, Change change) {
  double const sign = static_cast<double>(change);
  Trace& t = traces_[trace];
  effective_ += lost_to(t);
  t.both += sign * reading.by_height * reading.by_plant;
  t.height += sign * reading.by_height * reading.by_height;
  Eigen::Matrix3d const gain = sign * reading.by_plant * reading.by_plant.transpose();
  plain_ += gain;
  effective_ += gain - lost_to(t);
}

double Information::log_spread_after(Sensitivity const& reading,
                                     std::size_t trace,
                                     Change change) const {
  double const sign = static_cast<double>(change);
  Trace t = traces_[trace];
  Eigen::Matrix3d after = effective_ + lost_to(t);
  t.both += sign * reading.by_height * reading.by_plant;
  t.height += sign * reading.by_height * reading.by_height;
  after += sign * reading.by_plant * reading.by_plant.transpose() - lost_to(t);
  return log_spread_of(after);
}

double Information::log_spread() const { return log_spread_of(effective_); }

// det of the covariance of the first two = the third's information / det of all information;
// variance of the third = det of the first two's information / det of all.
double Information::log_spread_of(Eigen::Matrix3d const& information) {
  double const all = std::log(information.determinant());
  double const two = information(0, 0) * information(1, 1) - information(0, 1) * information(1, 0);
  return std::log(information(2, 2)) - all + factor_weight * (std::log(two) - all);
}

Eigen::Matrix3d Information::covariance() const { return effective_.inverse(); }

}  // namespace meltlag::fit
