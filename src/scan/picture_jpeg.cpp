// SPDX-License-Identifier: MIT
#include <cstdio>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "picture_files.hpp"
// After <cstdio>, which it needs.
#include <jpeglib.h>

namespace meltlag::scan {
namespace {

struct JpegErrors : jpeg_error_mgr {
  std::string path;
};

std::string words_of(j_common_ptr state) {
  char words[JMSG_LENGTH_MAX];
  state->err->format_message(state, words);
  return words;
}

// As for PNG: an exception leaves the library's frames.
void on_jpeg_error(j_common_ptr state) {
  refuse_damaged(static_cast<JpegErrors*>(state->err)->path, words_of(state));
}
// A file that ends early is a mere warning to the library, which fills in grey.
void on_jpeg_message(j_common_ptr state, int level) {
  if (level < 0) on_jpeg_error(state);
}

class JpegRows : public PictureRows {
 public:
  explicit JpegRows(std::string const& path) : path_(path), file_(system::open_for_reading(path)) {
    try {
      begin();
    } catch (...) {
      end();
      throw;
    }
  }
  ~JpegRows() override { end(); }
  JpegRows(JpegRows const&) = delete;
  JpegRows& operator=(JpegRows const&) = delete;

  void next(std::span<std::uint8_t> rgb) override {
    std::uint8_t* row = rgb.data();
    jpeg_read_scanlines(&state_, &row, 1);
  }

 private:
  void begin() {
    if (file_ == nullptr) throw Error("the picture cannot be read", {.file = path_}, {});
    state_.err = jpeg_std_error(&errors_);
    errors_.path = path_;
    errors_.error_exit = on_jpeg_error;
    errors_.emit_message = on_jpeg_message;
    jpeg_create_decompress(&state_);
    made_ = true;
    jpeg_stdio_src(&state_, file_);
    jpeg_read_header(&state_, TRUE);
    if (state_.jpeg_color_space == JCS_CMYK || state_.jpeg_color_space == JCS_YCCK)
      refuse_inks(path_);
    size_.width = static_cast<int>(state_.image_width);
    size_.height = static_cast<int>(state_.image_height);
    if (state_.density_unit == 1) size_.dpi = state_.X_density;
    if (state_.density_unit == 2) size_.dpi = state_.X_density * 2.54;
    check_size(path_, size_);
    auto const pixels = static_cast<std::int64_t>(size_.width) * size_.height;
    if (jpeg_has_multiple_scans(&state_) != 0 && pixels > most_whole_pixels)
      refuse_whole(path_, "progressive");
    size_.coarse_colour = state_.num_components == 3 && (state_.comp_info[0].h_samp_factor > 1 ||
                                                         state_.comp_info[0].v_samp_factor > 1);
    state_.out_color_space = JCS_RGB;
    jpeg_start_decompress(&state_);
  }
  void end() {
    if (made_) jpeg_destroy_decompress(&state_);
    made_ = false;
    if (file_ != nullptr) std::fclose(file_);
    file_ = nullptr;
  }

  std::string path_;
  std::FILE* file_;
  bool made_ = false;
  jpeg_decompress_struct state_{};
  JpegErrors errors_;
};

}  // namespace

std::unique_ptr<PictureRows> open_jpeg(std::string const& path) {
  return std::make_unique<JpegRows>(path);
}

}  // namespace meltlag::scan
