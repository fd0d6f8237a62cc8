// SPDX-License-Identifier: MIT
// Small text files that commands read and write whole.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace meltlag::cli {

enum class Overwrite : std::uint8_t { refused, allowed };

// Throws Error where `path` is a directory, or a file that may not be overwritten.
void refuse_to_overwrite(std::string const& path, Overwrite overwrite);
// refuse_to_overwrite(), then writes: beside the target and renamed over it, so that no half file
// is left behind; what is no regular file (a device, a pipe) is written as it is, never replaced.
void write_new_file(std::string const& path, std::string const& text, Overwrite overwrite);

struct NewFile {
  std::string path, text;  // without a path it is not wanted
};
// Files that belong together: none is put into its place before all are on the disk. Throws Error
// also where two have one name.
void write_new_files(std::vector<NewFile> const& files, Overwrite overwrite);

// Whether both would be the same file, which need not exist yet.
[[nodiscard]] bool same_name(std::string const& a, std::string const& b);

// The whole file. Throws Error with `hint` where it cannot be read.
[[nodiscard]] std::string read_text_file(std::string const& path, std::string const& hint = {});

}  // namespace meltlag::cli
