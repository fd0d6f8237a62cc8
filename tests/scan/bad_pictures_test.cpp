// SPDX-License-Identifier: MIT
// Pictures that cannot be read: each is named with what is wrong and what to do.
#include <cstdio>  // before jpeglib.h, which needs it
//
#include <doctest/doctest.h>
#include <jpeglib.h>
#include <png.h>
#include <tiffio.h>
#include <unistd.h>

#include "meltlag/base/error.hpp"
#include "meltlag/scan/picture.hpp"
#include "pictures.hpp"

using namespace meltlag;
using namespace meltlag::scan;
namespace ref = meltlag_reference;

namespace {

std::string what_is_wrong(std::string const& gcode, std::string const& picture) {
  try {
    (void)scan_picture(gcode, picture, {});
  } catch (Error const& error) {
    CHECK(error.where().file == picture);
    CHECK_FALSE(error.hint().empty());
    return error.what();
  }
  return "nothing";
}

void write_bytes(std::string const& path, std::string const& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

std::string read_bytes(std::string const& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

// A PNG header alone: what follows is never asked for.
std::string png_header(std::uint32_t width, std::uint32_t height, int depth) {
  std::string out = "\x89PNG\r\n\x1a\n";
  auto const number = [](std::uint32_t v) {
    std::string four;
    for (int shift = 24; shift >= 0; shift -= 8) four += static_cast<char>(v >> shift & 255);
    return four;
  };
  std::string const chunk = "IHDR" + number(width) + number(height) + static_cast<char>(depth) +
                            std::string("\2\0\0\0", 4);
  std::uint32_t crc = 0xffffffff;
  for (char const c : chunk) {
    crc ^= static_cast<unsigned char>(c);
    for (int bit = 0; bit < 8; ++bit) crc = crc >> 1 ^ (crc & 1 ? 0xedb88320 : 0);
  }
  out += number(13) + chunk + number(~crc);
  // An empty IDAT, so that the header counts as read.
  return out + std::string("\0\0\0\0IDAT\x35\xaf\x06\x1e", 12);
}

// A small JPEG of four inks.
void write_cmyk_jpeg(std::string const& path) {
  jpeg_compress_struct state{};
  jpeg_error_mgr errors{};
  state.err = jpeg_std_error(&errors);
  jpeg_create_compress(&state);
  std::FILE* const file = std::fopen(path.c_str(), "wb");
  REQUIRE(file != nullptr);
  jpeg_stdio_dest(&state, file);
  state.image_width = state.image_height = 64;
  state.input_components = 4;
  state.in_color_space = JCS_CMYK;
  jpeg_set_defaults(&state);
  jpeg_start_compress(&state, TRUE);
  std::vector<JSAMPLE> row(std::size_t{64} * 4, 90);
  JSAMPROW rows[] = {row.data()};
  while (state.next_scanline < state.image_height) (void)jpeg_write_scanlines(&state, rows, 1);
  jpeg_finish_compress(&state);
  jpeg_destroy_compress(&state);
  (void)std::fclose(file);
}

struct TiffKind {
  std::uint32_t width = 1200, height = 1600;
  std::uint16_t bits = 8, channels = 3, photometric = PHOTOMETRIC_RGB;
  bool one_strip = false;
};
// One row of it: what follows is never asked for.
void write_tiff(std::string const& path, TiffKind const& kind) {
  TIFF* const tiff = TIFFOpen(path.c_str(), "w");
  REQUIRE(tiff != nullptr);
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, kind.width);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, kind.height);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, kind.bits);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, kind.channels);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, kind.photometric);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, kind.one_strip ? kind.height : 1);
  // The library reads a strip that is not compressed in pieces.
  if (kind.one_strip) TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_LZW);
  std::vector<std::uint8_t> row(std::size_t{kind.width} * kind.channels * kind.bits / 8, 90);
  (void)TIFFWriteScanline(tiff, row.data(), 0, 0);
  TIFFClose(tiff);
}

bool has(std::string const& text, char const* part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("pictures of a page that cannot be measured") {
  ScratchFile const gcode("f.gcode"), picture("f.png"), other("g.png");
  Printed const printed = print_rings(gcode.path, machine(1, 0.8), {});
  ref::PictureOptions options{.file = picture.path, .dpi = 200};
  SUBCASE("cut off by a third: corner marks are missing") {
    options.crop = 0.66;
    ref::take_picture(printed.bead, options);
    CHECK(has(what_is_wrong(gcode.path, picture.path), "corner marks cannot be found"));
  }
  SUBCASE("the file ends early") {
    ref::take_picture(printed.bead, options);
    std::string const bytes = read_bytes(picture.path);
    write_bytes(other.path, bytes.substr(0, bytes.size() / 2));
    CHECK(has(what_is_wrong(gcode.path, other.path), "cut off or damaged"));
  }
  SUBCASE("a JPEG and a TIFF that end early") {
    for (char const* ending : {"jpg", "tif"}) {
      CAPTURE(ending);
      ScratchFile const whole(std::string("k.") + ending), half(std::string("l.") + ending);
      options.file = whole.path;
      ref::take_picture(printed.bead, options);
      std::string const bytes = read_bytes(whole.path);
      write_bytes(half.path, bytes.substr(0, bytes.size() / 2));
      CHECK(has(what_is_wrong(gcode.path, half.path), "cut off or damaged"));
    }
  }
  SUBCASE("a page without a piece") {
    ref::take_picture({}, options);
    CHECK(has(what_is_wrong(gcode.path, picture.path), "stands out"));
  }
  SUBCASE("another piece: the same rings, other steps between them") {
    auto small = ring_options();
    small.bed_x_mm = small.bed_y_mm = 170;
    std::ofstream(gcode.path, std::ios::binary) << testpiece::make_ring_piece(small).gcode;
    ref::take_picture(printed.bead, options);
    std::string const wrong = what_is_wrong(gcode.path, picture.path);
    CHECK_MESSAGE((has(wrong, "another piece") || has(wrong, "no rings")), wrong);
  }
  SUBCASE("two pieces, one over the other") {
    auto both = printed.bead;
    for (auto const& place : printed.bead) {
      both.push_back(place);
      both.back().x_mm += 31;
      both.back().y_mm += 17;
    }
    ref::take_picture(both, options);
    std::string const wrong = what_is_wrong(gcode.path, picture.path);
    CHECK_MESSAGE(wrong != "nothing", wrong);
  }
  SUBCASE("so blurred that nothing is sharp") {
    options.blur_px = 14;
    ref::take_picture(printed.bead, options);
    CHECK(what_is_wrong(gcode.path, picture.path) != "nothing");
  }
  SUBCASE("plastic of the background's colour") {
    options.granules = {{23, 22, 20}};
    options.noise = 1;
    ref::take_picture(printed.bead, options);
    CHECK(has(what_is_wrong(gcode.path, picture.path), "stands out"));
  }
  SUBCASE("too coarse") {
    options.dpi = 120;
    ref::take_picture(printed.bead, options);
    CHECK(has(what_is_wrong(gcode.path, picture.path), "too coarse"));
  }
}

TEST_CASE("files that are no picture, or one of another kind") {
  ScratchFile const gcode("h.gcode"), picture("h.png");
  std::ofstream(gcode.path, std::ios::binary) << testpiece::make_ring_piece(ring_options()).gcode;
  SUBCASE("none at all") { CHECK(has(what_is_wrong(gcode.path, picture.path), "cannot be read")); }
  SUBCASE("text") {
    write_bytes(picture.path, "a picture of seed-tray feet\n");
    CHECK(has(what_is_wrong(gcode.path, picture.path), "no PNG, JPEG or TIFF"));
  }
  SUBCASE("16 bits a channel") {
    write_bytes(picture.path, png_header(3000, 4000, 16));
    CHECK(has(what_is_wrong(gcode.path, picture.path), "16 bits a channel"));
  }
  SUBCASE("200 million pixels, before any is decoded") {
    write_bytes(picture.path, png_header(14000, 14300, 8));
    CHECK(has(what_is_wrong(gcode.path, picture.path), "200 million"));
  }
  SUBCASE("inks of a printer, as JPEG and as TIFF") {
    write_cmyk_jpeg(picture.path);
    CHECK(has(what_is_wrong(gcode.path, picture.path), "CMYK"));
    write_tiff(picture.path, {.channels = 4, .photometric = PHOTOMETRIC_SEPARATED});
    CHECK(has(what_is_wrong(gcode.path, picture.path), "CMYK"));
  }
  SUBCASE("a TIFF of 16 bits a channel") {
    write_tiff(picture.path, {.bits = 16});
    CHECK(has(what_is_wrong(gcode.path, picture.path), "16 bits a channel"));
  }
  SUBCASE("a TIFF of 200 million pixels, and one that has to be decoded as a whole") {
    write_tiff(picture.path, {.width = 14000, .height = 14300});
    CHECK(has(what_is_wrong(gcode.path, picture.path), "200 million"));
    write_tiff(picture.path, {.width = 9000, .height = 9000, .one_strip = true});
    CHECK(has(what_is_wrong(gcode.path, picture.path), "one strip"));
  }
  SUBCASE("a TIFF packed in a way that nothing unpacks") {
    write_tiff(picture.path, {});
    std::string bytes = read_bytes(picture.path);
    std::string const compression("\x03\x01\x03\x00\x01\x00\x00\x00\x01\x00", 10);
    std::size_t const at = bytes.find(compression);
    REQUIRE(at != std::string::npos);
    bytes.replace(at + 8, 2, "\x39\x30");  // no such number is given to a packing
    write_bytes(picture.path, bytes);
    CHECK(has(what_is_wrong(gcode.path, picture.path), "packed in a way that is not read here"));
  }
  SUBCASE("a blank sheet") {
    Picture blank{.width = 1200, .height = 1600, .rgb = {}};
    blank.rgb.assign(3u * 1200 * 1600, 250);
    write_bytes(picture.path, to_png(blank));
    CHECK(has(what_is_wrong(gcode.path, picture.path), "4 of the page's four corner marks"));
  }
}

TEST_CASE("a file that is no ring piece is named") {
  ScratchFile const gcode("i.gcode");
  std::ofstream(gcode.path, std::ios::binary)
      << "M83\nG1 X10 Y10 Z0.3 F1200\nG1 X90 E4\nG1 Y20 E1\nG1 X10 E4\n";
  CHECK_THROWS_WITH_AS(
      (void)scan_picture(gcode.path, "none.png", {}), doctest::Contains("no ring piece"), Error);
}
