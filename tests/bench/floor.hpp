// SPDX-License-Identifier: MIT
// The least that any rewriter of G-code has to do: read, convert each number, write.
#pragma once

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdio>
#include <memory>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace meltlag::bench {

struct FileCloser {
  void operator()(std::FILE* file) const { std::fclose(file); }
};
using FilePointer = std::unique_ptr<std::FILE, FileCloser>;

inline FilePointer open_file(std::string const& path, char const* mode) {
  FilePointer file(std::fopen(path.c_str(), mode));
  if (!file) throw std::runtime_error("cannot open " + path);
  return file;
}

// Appends `line` to `out`, each number after a letter read and written anew.
inline void convert_line(std::string_view line, std::string& out) {
  char const* at = line.data();
  char const* const end = at + line.size();
  while (at != end) {
    char const c = *at++;
    out += c;
    if (c == ';') break;
    if (c < 'A' || c > 'Z') continue;
    double value = 0;
    auto const [stop, failed] = std::from_chars(at, end, value);
    if (failed != std::errc()) continue;
    std::array<char, 32> text;
    auto const written = std::to_chars(text.data(), text.data() + text.size(), value);
    out.append(text.data(), written.ptr);
    at = stop;
  }
  out.append(at, end);
}

inline void floor(std::string const& in_path, std::string const& out_path) {
  FilePointer const in = open_file(in_path, "rb"), to = open_file(out_path, "wb");
  std::vector<char> buffer(1 << 20);
  std::string out;
  std::size_t kept = 0;
  auto const send = [&] {
    if (std::fwrite(out.data(), 1, out.size(), to.get()) != out.size())
      throw std::runtime_error("cannot write " + out_path);
    out.clear();
  };
  while (true) {
    std::size_t const got = std::fread(buffer.data() + kept, 1, buffer.size() - kept, in.get());
    std::string_view text(buffer.data(), kept + got);
    while (!text.empty()) {
      std::size_t const stop = text.find('\n');
      if (stop == std::string_view::npos && got != 0) break;
      std::size_t const length = stop == std::string_view::npos ? text.size() : stop + 1;
      convert_line(text.substr(0, length), out);
      text.remove_prefix(length);
    }
    send();
    if (got == 0) break;
    if (text.size() == buffer.size()) throw std::runtime_error("a line is too long");
    std::copy(text.begin(), text.end(), buffer.begin());
    kept = text.size();
  }
}

}  // namespace meltlag::bench
