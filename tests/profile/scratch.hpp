// SPDX-License-Identifier: MIT
// Files for one test, in a directory of their own that goes with it.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>
#include <string_view>

#include "meltlag/base/error.hpp"

class Scratch {
 public:
  Scratch() {
    std::string pattern = (std::filesystem::temp_directory_path() / "meltlag-XXXXXX").string();
    if (!mkdtemp(pattern.data())) throw std::runtime_error("no scratch directory");
    directory_ = pattern;
  }
  Scratch(Scratch const&) = delete;
  Scratch& operator=(Scratch const&) = delete;
  ~Scratch() {
    std::error_code ignored;
    std::filesystem::remove_all(directory_, ignored);
  }

  // Writes a file, its directories too, and gives its path.
  std::string write(std::string const& name, std::string_view text) const {
    std::filesystem::create_directories((directory_ / name).parent_path());
    std::ofstream(directory_ / name, std::ios::binary) << text;
    return path(name);
  }
  std::string path(std::string const& name) const { return (directory_ / name).string(); }

 private:
  std::filesystem::path directory_;
};

// The error that `call` throws; a failed test if it throws none.
template <typename Call>
meltlag::Error error_of(Call call) {
  try {
    call();
  } catch (meltlag::Error const& error) {
    return error;
  }
  return meltlag::Error("nothing was thrown");
}

// [machine] with all that it needs, for profiles that are about something else.
inline constexpr std::string_view machine_section = R"([machine]
acceleration_mm_s2 = 800
corner_jump_mm_s = { x = 10, y = 10, z = 0.4, e = 5 }
max_speed_mm_s = { x = 300, y = 300, z = 20, e = 60 }
max_acceleration_mm_s2 = { x = 9000, y = 9000, z = 500, e = 5000 }
)";
