// SPDX-License-Identifier: MIT
#include <png.h>

#include <cstdio>
#include <cstring>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "picture_files.hpp"

namespace meltlag::scan {
namespace {

// libpng reports through a function that must not return: an exception leaves its C frames, which
// hold nothing of ours. It is built with unwind tables on Debian.
void on_png_error(png_structp png, png_const_charp words) {
  auto const* const path = static_cast<std::string const*>(png_get_error_ptr(png));
  refuse_damaged(*path, words);
}
void on_png_warning(png_structp, png_const_charp) {}

class PngRows : public PictureRows {
 public:
  explicit PngRows(std::string const& path) : path_(path), file_(system::open_for_reading(path)) {
    try {
      begin();
    } catch (...) {
      end();
      throw;
    }
  }
  ~PngRows() override { end(); }
  PngRows(PngRows const&) = delete;
  PngRows& operator=(PngRows const&) = delete;

  void next(std::span<std::uint8_t> rgb) override {
    if (!whole_.empty()) {
      std::memcpy(rgb.data(), &whole_[rgb.size() * row_++], rgb.size());
      return;
    }
    png_read_row(png_, rgb.data(), nullptr);
  }

 private:
  void begin() {
    if (file_ == nullptr) throw Error("the picture cannot be read", {.file = path_}, {});
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, &path_, on_png_error, on_png_warning);
    info_ = png_create_info_struct(png_);
    png_init_io(png_, file_);
    png_read_info(png_, info_);
    int const depth = png_get_bit_depth(png_, info_);
    if (depth > 8) refuse_depth(path_, depth);
    size_.width = static_cast<int>(png_get_image_width(png_, info_));
    size_.height = static_cast<int>(png_get_image_height(png_, info_));
    size_.dpi = png_get_x_pixels_per_meter(png_, info_) * 0.0254;
    check_size(path_, size_);
    png_set_expand(png_);
    png_set_gray_to_rgb(png_);
    png_color_16 white{};
    white.red = white.green = white.blue = white.gray = 255;
    png_set_background(png_, &white, PNG_BACKGROUND_GAMMA_SCREEN, 0, 1.0);
    png_set_strip_alpha(png_);
    bool const interlaced = png_get_interlace_type(png_, info_) != PNG_INTERLACE_NONE;
    if (interlaced) png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    if (interlaced) read_whole();
  }

  void read_whole() {
    auto const width = static_cast<std::size_t>(size_.width);
    auto const height = static_cast<std::size_t>(size_.height);
    if (static_cast<std::int64_t>(width * height) > most_whole_pixels)
      refuse_whole(path_, "interlaced");
    whole_.resize(3 * width * height);
    std::vector<png_bytep> rows;
    for (std::size_t y = 0; y < height; ++y) rows.push_back(&whole_[3 * width * y]);
    png_read_image(png_, rows.data());
  }

  void end() {
    if (png_ != nullptr) png_destroy_read_struct(&png_, &info_, nullptr);
    if (file_ != nullptr) std::fclose(file_);
    file_ = nullptr;
  }

  std::string path_;
  std::FILE* file_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  std::vector<std::uint8_t> whole_;
  std::size_t row_ = 0;
};

void append(png_structp png, png_bytep bytes, png_size_t count) {
  static_cast<std::string*>(png_get_io_ptr(png))
      ->append(reinterpret_cast<char const*>(bytes), count);
}
void flush_nothing(png_structp) {}

}  // namespace

std::unique_ptr<PictureRows> open_png(std::string const& path) {
  return std::make_unique<PngRows>(path);
}

std::string to_png(Picture const& picture) {
  std::string out, name = "the picture found";
  png_structp png =
      png_create_write_struct(PNG_LIBPNG_VER_STRING, &name, on_png_error, on_png_warning);
  png_infop info = png_create_info_struct(png);
  png_set_write_fn(png, &out, append, flush_nothing);
  png_set_compression_level(png, 4);
  png_set_IHDR(png,
               info,
               static_cast<png_uint_32>(picture.width),
               static_cast<png_uint_32>(picture.height),
               8,
               PNG_COLOR_TYPE_RGB,
               PNG_INTERLACE_NONE,
               PNG_COMPRESSION_TYPE_DEFAULT,
               PNG_FILTER_TYPE_DEFAULT);
  png_write_info(png, info);
  for (int y = 0; y < picture.height; ++y) png_write_row(png, picture.at(0, y));
  png_write_end(png, nullptr);
  png_destroy_write_struct(&png, &info);
  return out;
}

}  // namespace meltlag::scan
