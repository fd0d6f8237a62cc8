// SPDX-License-Identifier: MIT
#include "meltlag/base/output_file.hpp"

#include <array>
#include <cerrno>
#include <filesystem>
#include <system_error>
#include <utility>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"

namespace meltlag {
namespace {

namespace fs = std::filesystem;

constexpr int most_links = 40;

// Links are followed by hand, as the last one may name what is not there yet.
std::string followed(std::string const& path) {
  std::error_code failed;
  fs::path target = system::path_of(path);
  for (int hops = 0; fs::is_symlink(target, failed); ++hops) {
    if (hops == most_links)
      throw Error(
          "its symbolic links go round in circles", {.file = path}, "Name the file itself.");
    target = target.parent_path() / fs::read_symlink(target, failed);
  }
  return target.string();
}

}  // namespace

bool exists(std::string const& path) {
  std::error_code ignored;
  return fs::exists(system::path_of(path), ignored);
}

bool same_file(std::string const& a, std::string const& b) {
  std::error_code failed;
  return fs::equivalent(system::path_of(a), system::path_of(b), failed) && !failed;
}

bool is_replaceable(std::string const& path) {
  if (path == "-") return false;
  std::error_code ignored;
  fs::path const file = system::path_of(path);
  return !fs::exists(file, ignored) || fs::is_regular_file(file, ignored);
}

OutputFile::OutputFile(std::string target)
    : shown_(std::move(target)), target_(shown_), replace_(is_replaceable(shown_)) {
  std::string beside = (system::path_of(system::temporary_folder()) / "meltlag").string();
  if (replace_) {
    target_ = beside = followed(shown_);
    replaces_ = exists(target_);
    int const problem = replaces_ ? system::why_not_writable(target_) : 0;
    if (problem != 0) {
      throw Error("cannot write: " + std::generic_category().message(problem),
                  {.file = shown_},
                  "Make the file writable, or name another output.");
    }
  }
  descriptor_ = system::make_temporary(beside, temporary_);
  if (descriptor_ < 0) {
    std::string const why = system::cause();
    temporary_.clear();
    throw Error("cannot write beside it: " + why,
                {.file = shown_},
                "Check that its folder exists, may be written to and has room.");
  }
}

OutputFile::~OutputFile() {
  if (descriptor_ >= 0) (void)system::close_file(descriptor_);
  if (!temporary_.empty()) system::remove_temporary(temporary_);
}

void OutputFile::fail(char const* doing) const {
  throw Error(std::string("cannot ") + doing + ": " + system::cause(),
              {.file = shown_},
              "It is as it was. Make room on the disk, or name another output.");
}

void OutputFile::write(std::string_view text) {
  if (!system::write_all(descriptor_, text)) fail("write");
}

void OutputFile::restart() {
  if (!system::empty_file(descriptor_)) fail("write");
}

void OutputFile::flush() {
  if (!system::sync(descriptor_)) fail("flush");
}

void OutputFile::copy_to(int out) {
  if (!system::rewind_file(descriptor_)) fail("read back");
  std::array<char, 1 << 16> buffer;
  std::ptrdiff_t n = 0;
  while ((n = system::read_some(descriptor_, buffer.data(), buffer.size())) > 0) {
    if (system::write_all(out, {buffer.data(), static_cast<std::size_t>(n)})) continue;
    // Whoever read the standard output has gone away: no fault.
    if (shown_ == "-" && errno == EPIPE)
      throw std::system_error(EPIPE, std::generic_category(), "standard output");
    fail("write");
  }
  if (n < 0) fail("read back");
}

void OutputFile::write_all_of(OutputFile& other) { other.copy_to(descriptor_); }

void OutputFile::copy_to_target() {
  if (shown_ == "-") return copy_to(system::standard_output);
  int const out = system::open_existing(shown_);
  if (out < 0) fail("open");
  try {
    copy_to(out);
  } catch (...) {
    (void)system::close_file(out);
    throw;
  }
  if (!system::close_file(out)) fail("write");
}

void OutputFile::finish() {
  if (!replace_ || descriptor_ < 0) return;
  if (!system::take_permissions(descriptor_, target_)) fail("set owner and permissions");
  flush();
  if (!system::close_file(std::exchange(descriptor_, -1))) fail("write");
}

void OutputFile::commit() {
  if (!replace_) return copy_to_target();
  finish();
  auto const how = replaces_ ? system::Replace::existing : system::Replace::never;
  if (!system::rename_file(temporary_, target_, how)) {
    fail(errno == EEXIST ? "put it there, as another program has just made a file of this name"
                         : "put the new file into its place");
  }
  system::forget_temporary(temporary_);
  temporary_.clear();
}

}  // namespace meltlag
