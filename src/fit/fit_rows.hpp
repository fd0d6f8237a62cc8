// SPDX-License-Identifier: MIT
// What to think of each reading once the fit is made.
#pragma once

#include <vector>

#include "fit_model.hpp"

namespace meltlag::fit {

// Beyond this many standard deviations a reading looks wrong.
inline constexpr double wrong_beyond_sd = 4;

// Rows in the readings' order. `band`: least and greatest prediction over plausible machines.
struct Band {
  double least, most;
};
[[nodiscard]] std::vector<RowOutcome> judge_rows(reading::PrintedPath const& path,
                                                 std::vector<reading::Reading> const& readings,
                                                 std::vector<reading::Predicted> const& predicted,
                                                 Eigen::VectorXd const& counted,
                                                 std::vector<Band> const& bands);

// How much more plastic the last copies got than the first ones, as a share, with all else that was
// fitted free to give way (a higher layer is a narrower one too); nothing where there are no two
// widths of each.
[[nodiscard]] std::optional<Value> drift_of(reading::PrintedPath const& path,
                                            std::vector<reading::Reading> const& readings,
                                            std::vector<RowOutcome> const& rows,
                                            LeastSquaresResult const& found);

}  // namespace meltlag::fit
