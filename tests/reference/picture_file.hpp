// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace meltlag_reference {

/// Writes PNG, JPEG or TIFF by the ending of the name, a row at a time.
class PictureFile {
 public:
  PictureFile(const std::string& path, int width, int height, bool grey, double dpi, int quality);
  ~PictureFile();
  void write_row(const std::vector<std::uint8_t>& rgb);
  void close();

 private:
  struct Coder;
  struct Png;
  struct Jpeg;
  struct Tiff;
  std::unique_ptr<Coder> coder_;
  int width_;
  bool grey_;
};

}  // namespace meltlag_reference
