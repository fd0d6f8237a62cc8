// SPDX-License-Identifier: MIT
// The file as sliced that --keep-original put beside an adapted one: adapted anew, or put back.
#pragma once

#include <optional>
#include <string>

namespace meltlag::cli {

// What --keep-original puts after the file's name.
inline constexpr char kept_suffix[] = ".as-sliced";

// Where `file` was adapted and its original is kept beside it, the original's name; nothing where
// it was not adapted, or where nothing is kept. Throws Error where what is kept is not its
// original: adapted itself, or another path of the head.
[[nodiscard]] std::optional<std::string> kept_original(std::string const& file);

// Puts the kept original in the place of the adapted file, in one step. Throws Error where there is
// none.
void restore_original(std::string const& file);

}  // namespace meltlag::cli
