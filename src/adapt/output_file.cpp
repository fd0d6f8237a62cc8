// SPDX-License-Identifier: MIT
#include "meltlag/adapt/output_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <system_error>
#include <utility>

#include "meltlag/base/error.hpp"

namespace meltlag::adapt {
namespace {

namespace fs = std::filesystem;

constexpr mode_t usual_mode = 0666;
constexpr int most_links = 40;

std::string cause() { return std::generic_category().message(errno); }

mode_t new_file_mode() {
  mode_t const mask = umask(0);
  umask(mask);
  return usual_mode & ~mask;
}

bool write_all(int descriptor, std::string_view text) {
  while (!text.empty()) {
    ssize_t const n = ::write(descriptor, text.data(), text.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    text.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

}  // namespace

bool exists(std::string const& path) {
  std::error_code ignored;
  return fs::exists(path, ignored);
}

bool same_file(std::string const& a, std::string const& b) {
  std::error_code failed;
  return fs::equivalent(a, b, failed) && !failed;
}

bool is_replaceable(std::string const& path) {
  std::error_code ignored;
  return path != "-" && (!fs::exists(path, ignored) || fs::is_regular_file(path, ignored));
}

OutputFile::OutputFile(std::string target)
    : shown_(std::move(target)), replace_(is_replaceable(shown_)) {
  std::error_code failed;
  target_ = shown_;
  // Links are followed by hand, as the last one may name what is not there yet.
  for (int hops = 0; replace_ && hops < most_links && fs::is_symlink(target_, failed); ++hops) {
    target_ = (fs::path(target_).parent_path() / fs::read_symlink(target_, failed)).string();
  }
  if (replace_ && fs::exists(target_, failed) && ::access(target_.c_str(), W_OK) != 0) {
    throw Error("cannot write: " + cause(),
                {.file = shown_},
                "Make the file writable, or name another output.");
  }
  temporary_ = (replace_ ? target_ : (fs::temp_directory_path() / "meltlag").string()) + ".XXXXXX";
  descriptor_ = ::mkstemp(temporary_.data());
  if (descriptor_ < 0) {
    throw Error("cannot write beside it: " + cause(),
                {.file = shown_},
                "Check that its folder exists and may be written to.");
  }
}

OutputFile::~OutputFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
  if (!temporary_.empty()) ::unlink(temporary_.c_str());
}

void OutputFile::fail(char const* doing) const {
  throw Error(std::string("cannot ") + doing + ": " + cause(),
              {.file = shown_},
              "Nothing was changed. Make room on the disk, or name another output.");
}

void OutputFile::write(std::string_view text) {
  if (!write_all(descriptor_, text)) fail("write");
}

void OutputFile::restart() {
  if (::ftruncate(descriptor_, 0) != 0 || ::lseek(descriptor_, 0, SEEK_SET) != 0) fail("write");
}

void OutputFile::flush() {
  if (::fsync(descriptor_) != 0 && errno != EINVAL) fail("flush");
}

void OutputFile::copy_to_target() {
  int const out = shown_ == "-" ? STDOUT_FILENO : ::open(shown_.c_str(), O_WRONLY);
  if (out < 0) fail("open");
  std::array<char, 1 << 16> buffer;
  if (::lseek(descriptor_, 0, SEEK_SET) != 0) fail("read back");
  bool good = true;
  ssize_t n = 0;
  while (good && (n = ::read(descriptor_, buffer.data(), buffer.size())) > 0) {
    good = write_all(out, {buffer.data(), static_cast<std::size_t>(n)});
  }
  if (!good || n < 0) {
    int const why = errno;
    if (out != STDOUT_FILENO) ::close(out);
    errno = why;
    fail("write");
  }
  if (out != STDOUT_FILENO && ::close(out) != 0) fail("write");
}

void OutputFile::commit() {
  if (!replace_) {
    copy_to_target();
    return;
  }
  struct stat old {};
  bool const replaces = ::stat(target_.c_str(), &old) == 0;
  if (::fchmod(descriptor_, replaces ? old.st_mode & 07777 : new_file_mode()) != 0)
    fail("set the permissions");
  // Only root may give a file away; where it is not allowed the new file is ours.
  if (replaces && ::fchown(descriptor_, old.st_uid, old.st_gid) != 0 && errno != EPERM)
    fail("set the owner");
  flush();
  if (::close(std::exchange(descriptor_, -1)) != 0) fail("write");
  if (::rename(temporary_.c_str(), target_.c_str()) != 0) fail("replace the file");
  temporary_.clear();
}

}  // namespace meltlag::adapt
