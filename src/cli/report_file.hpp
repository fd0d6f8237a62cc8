// SPDX-License-Identifier: MIT
// --report R.html, the same for every command that has it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/output_file.hpp"
#include "meltlag/page/path_page.hpp"
#include "meltlag/profile/profile.hpp"

namespace meltlag::cli {

inline constexpr char report_help[] =
    "Write a page with pictures, for any browser; an existing file is replaced";

// A page that appears whole or not at all. Throws Error where it cannot be written, before any work
// is done.
class ReportFile {
 public:
  // `others`: files that must not be overwritten by it.
  ReportFile(std::string const& path, std::vector<std::string> const& others);
  [[nodiscard]] report::Out const& out() const { return out_; }
  // As those of OutputFile.
  void finish();
  void commit();

 private:
  OutputFile file_;
  report::Out out_;
};

// The file as it is, for the page to show; empty where it cannot be read.
[[nodiscard]] std::string profile_text(std::string const& path);

// A page with the profile's text and what every command knows; figures and the rest are to be
// filled in.
[[nodiscard]] page::PathPage path_page(std::string const& command,
                                       std::string const& file,
                                       profile::Profile const& profile);

}  // namespace meltlag::cli
