// SPDX-License-Identifier: MIT
// q and b from the ring piece's bursts, once the lag is known.
//
// Bursts ask for more than the screw feeds for long, each for longer than the one before. What the
// screw then lacks shows in widths, smeared by the lag. On grids of q and b, refined about what is
// likely, each machine's widths are predicted; an offset common to all of them is left free. Means
// and deviations are those of the likelihood over the last grid, all q and b equally likely
// beforehand.
#pragma once

#include <optional>
#include <vector>

#include "dense_model.hpp"

namespace meltlag::fit {

// `model`: of the rows that tell the lag, its errors settled; `at`, `covariance` what it found.
// Nothing where fewer than thirty widths of bursts were read.
[[nodiscard]] std::optional<BurstOutcome> fit_bursts(reading::PrintedPath const& path,
                                                     std::vector<reading::Reading> const& all,
                                                     FitOptions const& options,
                                                     DenseModel const& model,
                                                     Eigen::VectorXd const& at,
                                                     Eigen::MatrixXd const& covariance);

}  // namespace meltlag::fit
