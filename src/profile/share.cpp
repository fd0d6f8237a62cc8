// SPDX-License-Identifier: MIT
#include "meltlag/profile/share.hpp"

#include <filesystem>

#include "meltlag/base/system.hpp"

namespace meltlag::profile {

std::string find_share_dir(std::string const& program_path) {
  namespace fs = std::filesystem;
  constexpr int levels = 4;
  auto const holds_profiles = [](fs::path const& directory) {
    std::error_code ignored;
    return fs::is_directory(directory / "materials", ignored);
  };
  fs::path directory = system::path_of(program_path).parent_path();
  fs::path const installed = directory.parent_path() / "share" / "meltlag" / "profiles";
  if (holds_profiles(installed)) return installed.string();
  for (int level = 0; level < levels && directory.has_relative_path(); ++level) {
    if (holds_profiles(directory / "profiles")) return (directory / "profiles").string();
    directory = directory.parent_path();
  }
  return {};
}

}  // namespace meltlag::profile
