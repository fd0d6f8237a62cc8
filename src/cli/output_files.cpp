// SPDX-License-Identifier: MIT
#include "output_files.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>

#include "meltlag/base/error.hpp"

namespace meltlag::cli {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail_to_write(std::string const& path, int error) {
  throw Error(fmt::format("cannot be written: {}", std::strerror(error)),
              {.file = path},
              "is the directory there, may you write to it, and is there room?");
}

// Errno where the text could not be written whole, else 0.
int write_whole(std::string const& path, std::string const& text) {
  errno = 0;
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  file << text;
  file.close();
  return file ? 0 : (errno != 0 ? errno : EIO);
}

}  // namespace

void refuse_to_overwrite(std::string const& path, Overwrite overwrite) {
  std::error_code ignored;
  if (fs::is_directory(path, ignored))
    throw Error("this is a directory", {.file = path}, "name a file");
  if (overwrite == Overwrite::allowed || !fs::is_regular_file(path, ignored)) return;
  throw Error("the file is already there and was not overwritten",
              {.file = path},
              "take another name, or add --force to replace it");
}

void write_new_file(std::string const& path, std::string const& text, Overwrite overwrite) {
  refuse_to_overwrite(path, overwrite);
  std::error_code ignored;
  if (fs::exists(path, ignored) && !fs::is_regular_file(path, ignored)) {
    if (int const error = write_whole(path, text)) fail_to_write(path, error);
    return;
  }
  std::string const target =
      fs::is_symlink(path, ignored) ? fs::weakly_canonical(path, ignored).string() : path;
  std::string const beside = fmt::format("{}.{}.new", target, getpid());
  int error = write_whole(beside, text);
  if (error == 0 && std::rename(beside.c_str(), target.c_str()) != 0) error = errno;
  if (error == 0) return;
  fs::remove(beside, ignored);
  fail_to_write(path, error);
}

std::string read_text_file(std::string const& path, std::string const& hint) {
  std::error_code ignored;
  std::ifstream file(path, std::ios::binary);
  if (!file || fs::is_directory(path, ignored))
    throw Error(
        fmt::format("cannot be read: {}", file ? "it is a directory" : std::strerror(errno)),
        {.file = path},
        hint);
  return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace meltlag::cli
