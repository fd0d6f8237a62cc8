// SPDX-License-Identifier: MIT
// What to think of each reading once the fit is made.
#pragma once

#include <vector>

#include "fit_model.hpp"

namespace meltlag::calibrate {

// Beyond this many standard deviations a reading looks wrong.
inline constexpr double wrong_beyond_sd = 4;

// Rows in the readings' order. `band`: least and greatest prediction over plausible machines.
struct Band {
  double least, most;
};
[[nodiscard]] std::vector<RowOutcome> judge_rows(PrintedPath const& path,
                                                 std::vector<Reading> const& readings,
                                                 std::vector<Predicted> const& predicted,
                                                 Eigen::VectorXd const& counted,
                                                 std::vector<Band> const& bands);

// How much more plastic the last copies got than the first ones, as a share of their widths;
// nothing where there are no two of each.
[[nodiscard]] std::optional<Value> drift_of(PrintedPath const& path,
                                            std::vector<Reading> const& readings,
                                            std::vector<RowOutcome> const& rows);

}  // namespace meltlag::calibrate
