// SPDX-License-Identifier: MIT
#include "meltlag/compare/builds.hpp"

namespace meltlag::compare {

BuildComparison compare_prints(BuildPrints const& old_build, BuildPrints const& new_build) {
  return {.run_on_mm3 = compare_builds(old_build.run_on_mm3, new_build.run_on_mm3),
          .lag_s = compare_builds(old_build.lag_s, new_build.lag_s),
          .blob_mm3 = compare_builds(old_build.blob_mm3, new_build.blob_mm3),
          .gap_mm = compare_builds(old_build.gap_mm, new_build.gap_mm)};
}

}  // namespace meltlag::compare
