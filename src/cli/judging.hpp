// SPDX-License-Identifier: MIT
// What the commands that judge files share.
#pragma once

#include <fstream>
#include <optional>
#include <string>

#include "meltlag/adapt/figure.hpp"
#include "meltlag/profile/profile.hpp"

namespace meltlag::cli {

[[nodiscard]] adapt::FigureOptions figure_options(profile::Profile const& profile);
// Without a profile: limits of a common small printer, so that times mean something; no lag.
[[nodiscard]] adapt::FigureOptions common_options();

// A file that is written row by row. Throws Error where that fails.
class CsvFile {
 public:
  explicit CsvFile(std::string const& path);
  [[nodiscard]] std::ostream& stream() { return stream_; }
  void close();

 private:
  std::string path_;
  std::ofstream stream_;
};

}  // namespace meltlag::cli
