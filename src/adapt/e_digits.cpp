// SPDX-License-Identifier: MIT
#include "e_digits.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace meltlag::adapt {
namespace {

constexpr double usual_rounding_mm = 1e-5;

}  // namespace

double bead_word(PlannedMove const& planned) {
  if (planned.move.kind != gcode::MoveKind::print) return 0;
  double e_mm = std::abs(planned.move.e_mm);
  if (planned.flow_right_e_mm > 0) e_mm = std::min(e_mm, planned.flow_right_e_mm);
  return e_mm * planned.move.write.e_words_per_mm;
}

int decimals_for_bead(double bead_word) {
  if (!(bead_word > 0)) return 0;
  constexpr double exact_power = 1e-9;  // 0.0001 needs 7, whatever the logarithm's last bit
  double const decimals = std::ceil(-std::log10(bead_rounding_share * bead_word) - exact_power);
  return static_cast<int>(std::clamp(decimals, 0.0, static_cast<double>(most_e_decimals)));
}

double e_rounding_mm(gcode::Move const& move) {
  if (move.kind != gcode::MoveKind::print) return usual_rounding_mm;
  // Half a digit at each end, and a digit where a piece may not go without E.
  return std::min(usual_rounding_mm, 1.5 * bead_rounding_share * std::abs(move.e_mm));
}

double single_precision_step(double count) {
  auto const single = static_cast<float>(std::abs(count));
  return std::nextafter(single, std::numeric_limits<float>::infinity()) - single;
}

}  // namespace meltlag::adapt
