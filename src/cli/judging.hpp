// SPDX-License-Identifier: MIT
// What the commands that judge files share.
#pragma once

#include <fstream>
#include <initializer_list>
#include <optional>
#include <string>

#include "meltlag/adapt/figure.hpp"
#include "meltlag/adapt/output_file.hpp"
#include "meltlag/profile/profile.hpp"

namespace meltlag::cli {

[[nodiscard]] adapt::FigureOptions figure_options(profile::Profile const& profile);
// Without a profile: limits of a common small printer, so that times mean something; no lag.
[[nodiscard]] adapt::FigureOptions common_options();

// A file that is written row by row and appears whole at commit(). Throws Error where that fails,
// and where it is one of the files that are read.
class CsvFile {
 public:
  CsvFile(std::string const& path, std::initializer_list<std::string> inputs);
  [[nodiscard]] std::ostream& stream() { return stream_; }
  // As those of adapt::OutputFile.
  void finish();
  void commit();

 private:
  std::string path_;
  adapt::OutputFile file_;
  std::ofstream stream_;
};

}  // namespace meltlag::cli
