// SPDX-License-Identifier: MIT
#include "report_file.hpp"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <system_error>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"

namespace meltlag::cli {
namespace {

// Whether both would be the same file, which need not exist yet.
bool same_name(std::string const& a, std::string const& b) {
  std::error_code error;
  auto const whole = [&](std::string const& path) {
    return std::filesystem::weakly_canonical(std::filesystem::absolute(path), error);
  };
  return whole(a) == whole(b) && !error;
}

std::string checked(std::string const& path, std::vector<std::string> const& others) {
  for (std::string const& other : others) {
    if (other.empty()) continue;
    if (same_name(path, other) || adapt::same_file(path, other)) {
      throw Error(
          "would be overwritten by its own report", {.file = other}, "Give --report another name.");
    }
  }
  return path;
}

}  // namespace

ReportFile::ReportFile(std::string const& path, std::vector<std::string> const& others)
    : file_(checked(path, others)), out_([this](std::string_view text) { file_.write(text); }) {}

void ReportFile::commit() {
  file_.flush();
  file_.commit();
}

std::string profile_text(std::string const& path) {
  std::ifstream file(system::path_of(path), std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

report::PathPage path_page(std::string const& command,
                           std::string const& file,
                           profile::Profile const& profile) {
  report::PathPage page;
  page.command = command;
  page.file = file;
  page.version = MELTLAG_VERSION;
  page.figures.parts = profile::parts_lag(profile);
  page.profile_title = profile.title;
  page.profile_text = profile_text(profile.path);
  return page;
}

}  // namespace meltlag::cli
