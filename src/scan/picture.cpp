// SPDX-License-Identifier: MIT
#include "meltlag/scan/picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <fstream>
#include <string_view>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "picture_files.hpp"

namespace meltlag::scan {
namespace {

constexpr int least_side_px = 400;  // no page could be read from less

std::array<char, 8> first_bytes(std::string const& path) {
  std::ifstream in(system::path_of(path), std::ios::binary);
  std::array<char, 8> out{};
  if (!in || !in.read(out.data(), out.size()))
    throw Error("the picture cannot be read",
                {.file = path},
                "Give a PNG, JPEG or TIFF of the page with the piece on it.");
  return out;
}

}  // namespace

std::unique_ptr<PictureRows> PictureRows::open(std::string const& path) {
  std::array<char, 8> const bytes = first_bytes(path);
  std::string_view const begin(bytes.data(), bytes.size());
  std::unique_ptr<PictureRows> rows;
  if (begin == "\x89PNG\r\n\x1a\n")
    rows = open_png(path);
  else if (begin.starts_with("\xff\xd8\xff"))
    rows = open_jpeg(path);
  else if (begin.starts_with(std::string_view("II*\0", 4)) ||
           begin.starts_with(std::string_view("MM\0*", 4)))
    rows = open_tiff(path);
  else
    throw Error("the file is no PNG, JPEG or TIFF picture",
                {.file = path},
                "Save the scan in one of these formats.");
  check_size(path, rows->size());
  return rows;
}

void check_size(std::string const& path, PictureSize const& size) {
  std::int64_t const pixels = static_cast<std::int64_t>(size.width) * size.height;
  if (pixels > most_pixels)
    throw Error(fmt::format("the picture has {} × {} pixels, {} million; at most {} are read",
                            size.width,
                            size.height,
                            pixels / 1'000'000,
                            most_pixels / 1'000'000),
                {.file = path},
                "Scan at 600 dpi; an A4 page at 1200 dpi is the most that is of use.");
  if (std::min(size.width, size.height) < least_side_px)
    throw Error(fmt::format("the picture has only {} × {} pixels", size.width, size.height),
                {.file = path},
                "Scan at 300 dpi or more, or take a photo of at least 8 million pixels.");
}

void refuse_depth(std::string const& path, int bits) {
  throw Error(fmt::format("the picture has {} bits a channel, and 8 are read", bits),
              {.file = path},
              "Save it with 8 bits a channel (24-bit colour).");
}

void refuse_packing(std::string const& path) {
  throw Error("the picture is packed in a way that is not read here",
              {.file = path},
              "Save it as PNG, or as TIFF without compression, with LZW or deflate.");
}

void refuse_inks(std::string const& path) {
  throw Error("the picture's colours are not red, green and blue (CMYK or another space for print)",
              {.file = path},
              "Save it as RGB or grey.");
}

void refuse_whole(std::string const& path, char const* kind) {
  throw Error(fmt::format("the picture is {} and so large that it cannot be read in rows", kind),
              {.file = path},
              "Save it again as a plain PNG, TIFF or baseline JPEG.");
}

void refuse_damaged(std::string const& path, std::string const& why) {
  throw Error(fmt::format("the picture is cut off or damaged: {}", why),
              {.file = path},
              "Copy the file again, or scan once more.");
}

Reduced read_reduced(std::string const& path, int longest_side) {
  std::unique_ptr<PictureRows> const rows = PictureRows::open(path);
  PictureSize const& size = rows->size();
  int const longest = std::max(size.width, size.height);
  Reduced out{.picture = {}, .factor = std::max(1, (longest + longest_side - 1) / longest_side)};
  Picture& picture = out.picture;
  picture.width = size.width / out.factor;
  picture.height = size.height / out.factor;
  picture.rgb.resize(3 * static_cast<std::size_t>(picture.width) *
                     static_cast<std::size_t>(picture.height));
  std::vector<std::uint8_t> row(3 * static_cast<std::size_t>(size.width));
  std::vector<std::uint32_t> sums(3 * static_cast<std::size_t>(picture.width));
  auto const area = static_cast<std::uint32_t>(out.factor * out.factor);
  auto const factor = static_cast<std::size_t>(out.factor);
  for (int y = 0; y < size.height; ++y) {
    rows->next(row);
    for (std::size_t x = 0; x < static_cast<std::size_t>(picture.width) * factor; ++x)
      for (std::size_t c = 0; c < 3; ++c) sums[3 * (x / factor) + c] += row[3 * x + c];
    if ((y + 1) % out.factor != 0) continue;
    int const at = y / out.factor;
    if (at < picture.height)
      for (std::size_t i = 0; i < sums.size(); ++i)
        picture.at(0, at)[i] = static_cast<std::uint8_t>((sums[i] + area / 2) / area);
    std::fill(sums.begin(), sums.end(), 0);
  }
  return out;
}

}  // namespace meltlag::scan
