// SPDX-License-Identifier: MIT
#include "report_file.hpp"

#include <fstream>
#include <iterator>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "output_files.hpp"

namespace meltlag::cli {
namespace {

std::string checked(std::string const& path, std::vector<std::string> const& others) {
  for (std::string const& other : others) {
    if (other.empty()) continue;
    if (same_name(path, other)) {
      throw Error(
          "would be overwritten by its own report", {.file = other}, "Give --report another name.");
    }
  }
  return path;
}

}  // namespace

ReportFile::ReportFile(std::string const& path, std::vector<std::string> const& others)
    : file_(checked(path, others)), out_([this](std::string_view text) { file_.write(text); }) {}

void ReportFile::finish() { file_.finish(); }

void ReportFile::commit() { file_.commit(); }

std::string profile_text(std::string const& path) {
  std::ifstream file(system::path_of(path), std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

page::PathPage path_page(std::string const& command,
                         std::string const& file,
                         profile::Profile const& profile) {
  page::PathPage page;
  page.command = command;
  page.file = file;
  page.version = MELTLAG_VERSION;
  page.figures.parts = profile::parts_lag(profile);
  page.profile_title = profile.title;
  page.profile_text = profile_text(profile.path);
  return page;
}

}  // namespace meltlag::cli
