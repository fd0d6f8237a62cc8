// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <string>

#include "meltlag/scan/picture.hpp"

namespace meltlag::scan {

std::unique_ptr<PictureRows> open_png(std::string const& path);
std::unique_ptr<PictureRows> open_jpeg(std::string const& path);
std::unique_ptr<PictureRows> open_tiff(std::string const& path);

// Throw Error for what is not read.
void check_size(std::string const& path, PictureSize const& size);
[[noreturn]] void refuse_depth(std::string const& path, int bits);
[[noreturn]] void refuse_packing(std::string const& path);
[[noreturn]] void refuse_inks(std::string const& path);
[[noreturn]] void refuse_whole(std::string const& path, char const* kind);
[[noreturn]] void refuse_damaged(std::string const& path, std::string const& why);

}  // namespace meltlag::scan
