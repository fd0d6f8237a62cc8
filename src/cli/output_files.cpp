// SPDX-License-Identifier: MIT
#include "output_files.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <utility>

#include "meltlag/adapt/output_file.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"

namespace meltlag::cli {
namespace {

namespace fs = std::filesystem;

}  // namespace

void refuse_to_overwrite(std::string const& path, Overwrite overwrite) {
  std::error_code ignored;
  if (fs::is_directory(system::path_of(path), ignored))
    throw Error("this is a directory", {.file = path}, "name a file");
  if (overwrite == Overwrite::allowed || !fs::is_regular_file(system::path_of(path), ignored))
    return;
  throw Error("the file is already there and was not overwritten",
              {.file = path},
              "take another name, or add --force to replace it");
}

void write_new_file(std::string const& path, std::string const& text, Overwrite overwrite) {
  refuse_to_overwrite(path, overwrite);
  adapt::OutputFile file(path);
  file.write(text);
  file.commit();
}

std::string read_text_file(std::string const& path, std::string const& hint) {
  std::error_code ignored;
  std::ifstream file(system::path_of(path), std::ios::binary);
  if (!file || fs::is_directory(system::path_of(path), ignored))
    throw Error(
        fmt::format("cannot be read: {}", file ? "it is a directory" : std::strerror(errno)),
        {.file = path},
        hint);
  std::ostringstream text;
  text << file.rdbuf();
  if (file.bad())
    throw Error(fmt::format("cannot be read: {}", std::strerror(errno)), {.file = path}, hint);
  return std::move(text).str();
}

}  // namespace meltlag::cli
