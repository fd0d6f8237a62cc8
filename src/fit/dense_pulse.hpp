// SPDX-License-Identifier: MIT
// Pulsation with the screw's turn in widths off a picture.
#pragma once

#include <optional>

#include "dense_model.hpp"

namespace meltlag::fit {

// One linear step from what was found, with the amplitudes of cosine and sine as two more unknowns:
// what a small pulsation does to widths, the lag's smoothing included, is nearly proportional to
// it. ± is from the scatter of the residuals, all other unknowns free.
// REQUIRES: options.e_mm_per_turn > 0. `found` is of `model`.
[[nodiscard]] TurnPulse fit_pulse(DenseModel const& model,
                                  LeastSquaresResult const& found,
                                  double e_mm_per_turn);

}  // namespace meltlag::fit
