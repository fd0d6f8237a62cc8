// SPDX-License-Identifier: MIT
#include "picture_file.hpp"

#include <png.h>
#include <tiffio.h>

#include <cstdio>
#include <stdexcept>
// libjpeg's header wants FILE to be there.
#include <jpeglib.h>

namespace meltlag_reference {

struct PictureFile::Coder {
  virtual ~Coder() = default;
  virtual void row(std::uint8_t* bytes) = 0;
  virtual void finish() = 0;
};

struct PictureFile::Png : Coder {
  Png(const std::string& path, int width, int height, bool grey, double dpi)
      : file(std::fopen(path.c_str(), "wb")) {
    if (file == nullptr) throw std::runtime_error("cannot write " + path);
    png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
    info = png_create_info_struct(png);
    png_init_io(png, file);
    png_set_compression_level(png, 1);
    png_set_filter(png, 0, PNG_FILTER_SUB);
    png_set_IHDR(png,
                 info,
                 static_cast<png_uint_32>(width),
                 static_cast<png_uint_32>(height),
                 8,
                 grey ? PNG_COLOR_TYPE_GRAY : PNG_COLOR_TYPE_RGB,
                 PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    const auto per_m = static_cast<png_uint_32>(dpi / 0.0254);
    png_set_pHYs(png, info, per_m, per_m, PNG_RESOLUTION_METER);
    png_write_info(png, info);
  }
  ~Png() override {
    png_destroy_write_struct(&png, &info);
    std::fclose(file);
  }
  void row(std::uint8_t* bytes) override { png_write_row(png, bytes); }
  void finish() override { png_write_end(png, nullptr); }
  std::FILE* file;
  png_structp png = nullptr;
  png_infop info = nullptr;
};

struct PictureFile::Jpeg : Coder {
  Jpeg(const std::string& path, int width, int height, bool grey, double dpi, int quality)
      : file(std::fopen(path.c_str(), "wb")) {
    if (file == nullptr) throw std::runtime_error("cannot write " + path);
    state.err = jpeg_std_error(&errors);
    jpeg_create_compress(&state);
    jpeg_stdio_dest(&state, file);
    state.image_width = static_cast<JDIMENSION>(width);
    state.image_height = static_cast<JDIMENSION>(height);
    state.input_components = grey ? 1 : 3;
    state.in_color_space = grey ? JCS_GRAYSCALE : JCS_RGB;
    jpeg_set_defaults(&state);
    jpeg_set_quality(&state, quality, TRUE);
    state.density_unit = 1;
    state.X_density = state.Y_density = static_cast<UINT16>(dpi);
    jpeg_start_compress(&state, TRUE);
  }
  ~Jpeg() override {
    jpeg_destroy_compress(&state);
    std::fclose(file);
  }
  void row(std::uint8_t* bytes) override { jpeg_write_scanlines(&state, &bytes, 1); }
  void finish() override { jpeg_finish_compress(&state); }
  std::FILE* file;
  jpeg_compress_struct state{};
  jpeg_error_mgr errors{};
};

struct PictureFile::Tiff : Coder {
  Tiff(const std::string& path, int width, int height, bool grey, double dpi)
      : tiff(TIFFOpen(path.c_str(), "w")) {
    if (tiff == nullptr) throw std::runtime_error("cannot write " + path);
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(width));
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(height));
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, grey ? 1 : 3);
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 8);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, grey ? PHOTOMETRIC_MINISBLACK : PHOTOMETRIC_RGB);
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, 16);
    TIFFSetField(tiff, TIFFTAG_XRESOLUTION, dpi);
    TIFFSetField(tiff, TIFFTAG_YRESOLUTION, dpi);
    TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
  }
  ~Tiff() override { TIFFClose(tiff); }
  void row(std::uint8_t* bytes) override { TIFFWriteScanline(tiff, bytes, at++, 0); }
  void finish() override {}
  TIFF* tiff;
  std::uint32_t at = 0;
};

PictureFile::PictureFile(
    const std::string& path, int width, int height, bool grey, double dpi, int quality)
    : width_(width), grey_(grey) {
  if (path.ends_with(".png"))
    coder_ = std::make_unique<Png>(path, width, height, grey, dpi);
  else if (path.ends_with(".jpg"))
    coder_ = std::make_unique<Jpeg>(path, width, height, grey, dpi, quality);
  else if (path.ends_with(".tif"))
    coder_ = std::make_unique<Tiff>(path, width, height, grey, dpi);
  else
    throw std::runtime_error("pictures end in .png, .jpg or .tif: " + path);
}
PictureFile::~PictureFile() = default;

void PictureFile::write_row(const std::vector<std::uint8_t>& rgb) {
  std::vector<std::uint8_t> row = rgb;
  if (grey_) {
    row.resize(static_cast<std::size_t>(width_));
    for (std::size_t i = 0; i < row.size(); ++i)
      row[i] = static_cast<std::uint8_t>((rgb[3 * i] + 2 * rgb[3 * i + 1] + rgb[3 * i + 2]) / 4);
  }
  coder_->row(row.data());
}
void PictureFile::close() {
  coder_->finish();
  coder_.reset();
}

}  // namespace meltlag_reference
