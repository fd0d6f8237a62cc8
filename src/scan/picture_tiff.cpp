// SPDX-License-Identifier: MIT
#include <tiffio.h>

#include <algorithm>
#include <cstdio>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "picture_files.hpp"

namespace meltlag::scan {
namespace {

void say_nothing(char const*, char const*, va_list) {}

// The library opens files by names of the system's own narrow characters, which are not UTF-8
// everywhere: it reads from a stream of ours instead.
std::FILE* stream_of(thandle_t handle) { return static_cast<std::FILE*>(handle); }
tmsize_t read_stream(thandle_t handle, void* to, tmsize_t size) {
  return static_cast<tmsize_t>(
      std::fread(to, 1, static_cast<std::size_t>(size), stream_of(handle)));
}
tmsize_t write_nothing(thandle_t, void*, tmsize_t) { return 0; }
toff_t seek_stream(thandle_t handle, toff_t to, int from) {
  bool const moved = std::fseek(stream_of(handle), static_cast<long>(to), from) == 0;
  return moved ? static_cast<toff_t>(std::ftell(stream_of(handle))) : static_cast<toff_t>(-1);
}
int close_stream(thandle_t handle) { return std::fclose(stream_of(handle)); }
toff_t size_of_stream(thandle_t handle) {
  long const at = std::ftell(stream_of(handle));
  toff_t const end = seek_stream(handle, 0, SEEK_END);
  static_cast<void>(seek_stream(handle, static_cast<toff_t>(at), SEEK_SET));
  return end;
}

// m: not mapped into memory, where a large file would count as a whole. Null where it is no TIFF.
TIFF* open_rows(std::string const& path) {
  std::FILE* const file = system::open_for_reading(path);
  if (file == nullptr) return nullptr;
  TIFF* const tiff = TIFFClientOpen(path.c_str(),
                                    "rm",
                                    file,
                                    read_stream,
                                    write_nothing,
                                    seek_stream,
                                    close_stream,
                                    size_of_stream,
                                    nullptr,
                                    nullptr);
  if (tiff == nullptr) std::fclose(file);
  return tiff;
}

class TiffRows : public PictureRows {
 public:
  explicit TiffRows(std::string const& path) : path_(path) {
    TIFFSetErrorHandler(say_nothing);
    TIFFSetWarningHandler(say_nothing);
    tiff_ = open_rows(path);
    try {
      begin();
    } catch (...) {
      end();
      throw;
    }
  }
  ~TiffRows() override { end(); }
  TiffRows(TiffRows const&) = delete;
  TiffRows& operator=(TiffRows const&) = delete;

  void next(std::span<std::uint8_t> rgb) override {
    if (TIFFReadScanline(tiff_, line_.data(), row_, 0) != 1)
      refuse_damaged(path_, "row " + std::to_string(row_ + 1) + " cannot be read");
    ++row_;
    for (std::size_t x = 0; x < static_cast<std::size_t>(size_.width); ++x)
      for (std::size_t c = 0; c < 3; ++c) {
        std::uint8_t const value = line_[x * channels_ + (channels_ >= 3 ? c : 0)];
        rgb[3 * x + c] = dark_is_high_ ? static_cast<std::uint8_t>(255 - value) : value;
      }
  }

 private:
  [[nodiscard]] std::uint16_t number(ttag_t tag) const {
    std::uint16_t value = 0;
    TIFFGetFieldDefaulted(tiff_, tag, &value);
    return value;
  }

  void begin() {
    if (tiff_ == nullptr) refuse_damaged(path_, "it has no readable directory");
    std::uint32_t width = 0, height = 0;
    TIFFGetField(tiff_, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff_, TIFFTAG_IMAGELENGTH, &height);
    size_.width = static_cast<int>(std::min<std::uint32_t>(width, 1u << 30));
    size_.height = static_cast<int>(std::min<std::uint32_t>(height, 1u << 30));
    float dpi = 0;
    if (TIFFGetField(tiff_, TIFFTAG_XRESOLUTION, &dpi) == 1)
      size_.dpi = number(TIFFTAG_RESOLUTIONUNIT) == RESUNIT_CENTIMETER ? dpi * 2.54 : dpi;
    check_size(path_, size_);
    if (TIFFIsCODECConfigured(number(TIFFTAG_COMPRESSION)) == 0) refuse_packing(path_);
    if (int const bits = number(TIFFTAG_BITSPERSAMPLE); bits != 8) refuse_depth(path_, bits);
    std::uint16_t const kind = number(TIFFTAG_PHOTOMETRIC);
    channels_ = number(TIFFTAG_SAMPLESPERPIXEL);
    bool const grey = kind == PHOTOMETRIC_MINISBLACK || kind == PHOTOMETRIC_MINISWHITE;
    // JPEG within TIFF is decoded to RGB by the library.
    bool const packed =
        kind == PHOTOMETRIC_YCBCR && number(TIFFTAG_COMPRESSION) == COMPRESSION_JPEG;
    if (packed) TIFFSetField(tiff_, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
    if (!grey && !packed && kind != PHOTOMETRIC_RGB) refuse_inks(path_);
    dark_is_high_ = kind == PHOTOMETRIC_MINISWHITE;
    bool const planes = number(TIFFTAG_PLANARCONFIG) != PLANARCONFIG_CONTIG;
    if (TIFFIsTiled(tiff_) != 0 || (planes && channels_ > 1))
      refuse_whole(path_, "kept in tiles or planes");
    auto const bytes = static_cast<std::size_t>(TIFFScanlineSize(tiff_));
    if (channels_ == 0 || bytes < static_cast<std::size_t>(size_.width) * channels_)
      refuse_damaged(path_, "its rows are shorter than it says");
    // A strip is decoded at once: one that is the whole picture would be held whole.
    if (TIFFStripSize(tiff_) > 3 * most_whole_pixels) refuse_whole(path_, "one strip");
    line_.resize(bytes);
  }
  void end() {
    if (tiff_ != nullptr) TIFFClose(tiff_);
    tiff_ = nullptr;
  }

  std::string path_;
  TIFF* tiff_ = nullptr;
  std::vector<std::uint8_t> line_;
  std::size_t channels_ = 0;
  std::uint32_t row_ = 0;
  bool dark_is_high_ = false;
};

}  // namespace

std::unique_ptr<PictureRows> open_tiff(std::string const& path) {
  return std::make_unique<TiffRows>(path);
}

}  // namespace meltlag::scan
