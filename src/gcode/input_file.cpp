// SPDX-License-Identifier: MIT
#include "input_file.hpp"

#include <cerrno>
#include <filesystem>
#include <system_error>
#include <utility>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"

namespace meltlag::gcode {
namespace {

[[noreturn]] void fail_to_open(std::string const& path, int error) {
  std::string hint = "Check the path and whether you may read it.";
  if (error == ENOENT) hint = "Check the spelling of the path.";
  if (error == EACCES) hint = "You may not read it: change its permissions, or copy it.";
  throw Error("cannot open: " + std::generic_category().message(error), {.file = path}, hint);
}

}  // namespace

void InputFile::Close::operator()(std::FILE* file) const {
  if (file != stdin) std::fclose(file);
}

InputFile::InputFile(std::string path) : path_(std::move(path)) {
  if (path_ == "-") {
    file_.reset(stdin);
    path_ = "standard input";
  } else {
    std::error_code status;
    if (std::filesystem::is_directory(system::path_of(path_), status)) {
      throw Error("is a directory", {.file = path_}, "Name a G-code file inside it.");
    }
    file_.reset(system::open_for_reading(path_));
    if (!file_) fail_to_open(path_, errno);
    if (std::filesystem::is_regular_file(system::path_of(path_), status)) {
      auto const size = std::filesystem::file_size(system::path_of(path_), status);
      if (!status) size_bytes_ = size;
    }
  }
  std::setvbuf(file_.get(), nullptr, _IONBF, 0);  // the caller's buffer is large
}

std::size_t InputFile::read(char* buffer, std::size_t size) {
  auto const count = std::fread(buffer, 1, size, file_.get());
  if (count < size && std::ferror(file_.get()) != 0) {
    throw Error("cannot read: " + std::generic_category().message(errno),
                {.file = path_},
                "Check the disk or the connection and try again.");
  }
  return count;
}

}  // namespace meltlag::gcode
