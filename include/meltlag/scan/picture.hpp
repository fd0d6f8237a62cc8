// SPDX-License-Identifier: MIT
// Pictures read a row at a time, so that memory does not depend on their size.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace meltlag::scan {

inline constexpr std::int64_t most_pixels = 180'000'000;  // an A4 page at 1200 dpi has 139 million
inline constexpr std::int64_t most_whole_pixels = 40'000'000;  // where a file has to be held whole

struct PictureSize {
  int width = 0, height = 0;
  double dpi = 0;              // as the file says; 0: it does not
  bool coarse_colour = false;  // colours are kept at half the sharpness of brightness (JPEG)
};

// An open picture. Rows come from the top down, 3 bytes a pixel: red, green, blue.
class PictureRows {
 public:
  // PNG, JPEG or TIFF, told by its first bytes; 8 bits a channel, grey, palette or RGB, alpha is
  // laid over white. Throws Error for another format, for 16 bits, CMYK, for more than most_pixels,
  // for an interlaced or progressive picture of more than most_whole_pixels, and where it cannot be
  // read.
  static std::unique_ptr<PictureRows> open(std::string const& path);
  virtual ~PictureRows() = default;

  [[nodiscard]] PictureSize const& size() const { return size_; }
  // The next row into `rgb`, width × 3 bytes. Throws Error where the file is cut off or damaged.
  // REQUIRES: fewer than height rows were read.
  virtual void next(std::span<std::uint8_t> rgb) = 0;

 protected:
  PictureSize size_;
};

// A whole small picture.
struct Picture {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;

  [[nodiscard]] std::uint8_t const* at(int x, int y) const {
    return &rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                     static_cast<std::size_t>(x))];
  }
  [[nodiscard]] std::uint8_t* at(int x, int y) {
    return const_cast<std::uint8_t*>(static_cast<Picture const&>(*this).at(x, y));
  }
};

// The picture with `factor` × `factor` pixels averaged into one; pixel (x, y) of it has its middle
// at factor·(x + ½) − ½ of the original.
struct Reduced {
  Picture picture;
  int factor = 1;
};
[[nodiscard]] Reduced read_reduced(std::string const& path, int longest_side);

// A PNG as bytes.
[[nodiscard]] std::string to_png(Picture const& picture);

}  // namespace meltlag::scan
