// SPDX-License-Identifier: MIT
// What a set of readings tells of one machine.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

namespace meltlag::fit {

// One candidate seen on one machine, divided by its standard deviation.
struct Sensitivity {
  Eigen::Vector3d by_plant = Eigen::Vector3d::Zero();  // to ln S, n, ln factor
  double by_height = 0;
};

// Information of (ln S, n, ln factor) with one unknown height a trace.
class Information {
 public:
  Information(std::size_t traces, Eigen::Matrix3d const& beforehand, double height_sd_mm);

  enum class Change : std::int8_t { add = 1, take = -1 };
  void change(Sensitivity const& reading, std::size_t trace, Change change);
  // ln of the determinant of the covariance of (ln S, n), and twice ln of the variance of ln
  // factor, as they would be after the change.
  [[nodiscard]] double log_spread_after(Sensitivity const& reading,
                                        std::size_t trace,
                                        Change change) const;
  [[nodiscard]] double log_spread() const;
  [[nodiscard]] Eigen::Matrix3d covariance() const;

 private:
  struct Trace {
    Eigen::Vector3d both = Eigen::Vector3d::Zero();
    double height = 0;
  };
  static double log_spread_of(Eigen::Matrix3d const& information);
  [[nodiscard]] Eigen::Matrix3d lost_to(Trace const& trace) const;

  Eigen::Matrix3d plain_;      // heights known
  Eigen::Matrix3d effective_;  // heights unknown
  std::vector<Trace> traces_;
};

}  // namespace meltlag::fit
