// SPDX-License-Identifier: MIT
// Small text files that commands read and write whole.
#pragma once

#include <cstdint>
#include <string>

namespace meltlag::cli {

enum class Overwrite : std::uint8_t { refused, allowed };

// Throws Error where `path` is a directory, or a file that may not be overwritten.
void refuse_to_overwrite(std::string const& path, Overwrite overwrite);
// refuse_to_overwrite(), then writes: beside the target and renamed over it, so that no half file
// is left behind; what is no regular file (a device, a pipe) is written as it is, never replaced.
void write_new_file(std::string const& path, std::string const& text, Overwrite overwrite);
// The whole file. Throws Error with `hint` where it cannot be read.
[[nodiscard]] std::string read_text_file(std::string const& path, std::string const& hint = {});

}  // namespace meltlag::cli
