// SPDX-License-Identifier: MIT
// Bytes from a file, a pipe or standard input.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <memory>
#include <string>

namespace meltlag::gcode {

class InputFile {
 public:
  // `path` "-" is standard input. Throws Error when it cannot be opened or is a directory.
  explicit InputFile(std::string path);

  // Reads up to `size` bytes, fewer only at the end; 0 there. Throws Error on a read error.
  [[nodiscard]] std::size_t read(char* buffer, std::size_t size);

  // 0 when not known, as for a pipe.
  [[nodiscard]] std::uint64_t size_bytes() const { return size_bytes_; }

 private:
  struct Close {
    void operator()(std::FILE* file) const;
  };
  std::string path_;
  std::unique_ptr<std::FILE, Close> file_;
  std::uint64_t size_bytes_ = 0;
};

}  // namespace meltlag::gcode
