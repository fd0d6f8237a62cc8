// SPDX-License-Identifier: MIT
#include "compare_scan.hpp"

#include "meltlag/base/error.hpp"

namespace meltlag::cli {

CompareScan scan_for_comparison(CompareScanRequest const& request) {
  throw Error("this build reads no pictures",
              {.file = request.picture},
              "Use the program of a Linux system, or type widths into a sheet.");
}

}  // namespace meltlag::cli
