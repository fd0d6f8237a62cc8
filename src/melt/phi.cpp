// SPDX-License-Identifier: MIT
#include <cmath>

#include "step.hpp"

namespace meltlag::melt {

Phi phi(double z) {
  if (std::abs(z) < 1) {
    // Series of φ5, then φ_k = 1/k! + z·φ_{k+1}: nothing cancels.
    double p5 = 0;
    for (int j = 14; j >= 0; --j) {
      p5 = 1 + z * p5 / (j + 6);
    }
    p5 /= 120;
    double const p4 = 1.0 / 24 + z * p5, p3 = 1.0 / 6 + z * p4, p2 = 0.5 + z * p3;
    return {1 + z * p2, p2, p3, p4, p5};
  }
  double const p1 = std::expm1(z) / z, p2 = (p1 - 1) / z, p3 = (p2 - 0.5) / z;
  double const p4 = (p3 - 1.0 / 6) / z;
  return {p1, p2, p3, p4, (p4 - 1.0 / 24) / z};
}

}  // namespace meltlag::melt
