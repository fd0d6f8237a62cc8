// SPDX-License-Identifier: MIT
#include "output_files.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <list>
#include <sstream>
#include <system_error>
#include <utility>

#include "meltlag/base/error.hpp"
#include "meltlag/base/output_file.hpp"
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
  write_new_files({{path, text}}, overwrite);
}

void write_new_files(std::vector<NewFile> const& files, Overwrite overwrite) {
  std::list<OutputFile> outputs;
  for (auto file = files.begin(); file != files.end(); ++file) {
    if (file->path.empty()) continue;
    refuse_to_overwrite(file->path, overwrite);
    for (auto other = files.begin(); other != file; ++other)
      if (!other->path.empty() && same_name(file->path, other->path))
        throw Error("two files of this name would be written",
                    {.file = file->path},
                    "give each a name of its own");
    outputs.emplace_back(file->path).write(file->text);
  }
  for (OutputFile& output : outputs) output.finish();
  for (OutputFile& output : outputs) output.commit();
}

bool same_name(std::string const& a, std::string const& b) {
  std::error_code failed;
  auto const whole = [&](std::string const& path) {
    return fs::weakly_canonical(fs::absolute(system::path_of(path), failed), failed);
  };
  bool const same = whole(a) == whole(b);
  return (same && !failed) || same_file(a, b);
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
