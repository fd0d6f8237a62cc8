// SPDX-License-Identifier: MIT
// A file that appears whole or not at all: written beside its target, flushed, renamed over it.
#pragma once

#include <string>
#include <string_view>

namespace meltlag {

// True when both paths name the same existing file.
[[nodiscard]] bool same_file(std::string const& a, std::string const& b);
[[nodiscard]] bool exists(std::string const& path);
// False for "-", pipes and devices, which are written directly.
[[nodiscard]] bool is_replaceable(std::string const& path);

// Text goes to a temporary file; commit() puts it in the target's place. Without commit() the
// target stays as it was and the temporary file is removed.
class OutputFile {
 public:
  // A symbolic link is followed to what it names. Throws Error when the temporary file cannot be
  // made, and where the target may not be written.
  explicit OutputFile(std::string target);
  ~OutputFile();
  OutputFile(OutputFile const&) = delete;
  OutputFile& operator=(OutputFile const&) = delete;

  // Each throws Error naming the target and the cause; the target is untouched then.
  void write(std::string_view text);
  void flush();
  // Appends all that was written to `other`.
  void write_all_of(OutputFile& other);
  // All is on the disk and nothing but the renaming is left to fail. Before commit() where several
  // files belong together: finish() all, then commit() them, the one that must not be lost last.
  void finish();
  // Replaces a regular target, keeping its permissions and owner; copies into any other. What was
  // not there at the start and is now is not replaced. Throws std::system_error (broken_pipe) where
  // nobody reads the standard output any more.
  void commit();
  // Throws away what was written so far.
  void restart();

  // Where the text stands until commit(); complete after flush().
  [[nodiscard]] std::string const& temporary_path() const { return temporary_; }

 private:
  [[noreturn]] void fail(char const* doing) const;
  void copy_to_target();
  void copy_to(int descriptor);

  std::string shown_, target_, temporary_;
  int descriptor_ = -1;
  bool replace_ = true;    // renamed over the target, not written into it
  bool replaces_ = false;  // the target was there at the start
};

}  // namespace meltlag
