// SPDX-License-Identifier: MIT
#include "meltlag/gcode/source.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <random>
#include <string>
#include <thread>
#include <vector>

#ifndef _WIN32
#include <sys/stat.h>
#endif

#include "meltlag/base/error.hpp"

namespace fs = std::filesystem;
using meltlag::Error;
using meltlag::gcode::LineSource;
using meltlag::gcode::RawLine;

namespace {

// A file of its own in the system's folder for temporary files, removed at the end.
class ScratchFile {
 public:
  explicit ScratchFile(std::string const& bytes) {
    static std::mt19937_64 random(
        static_cast<std::uint64_t>(std::chrono::steady_clock::now().time_since_epoch().count()));
    path_ = fs::temp_directory_path() / ("meltlag-source-" + std::to_string(random()));
    std::ofstream(path_, std::ios::binary) << bytes;
  }
  ~ScratchFile() { fs::remove(path_); }
  [[nodiscard]] std::string path() const { return path_.string(); }

 private:
  fs::path path_;
};

struct ReadBack {
  std::string bytes;
  std::vector<std::string> lines, breaks;
  std::vector<std::uint64_t> offsets;
};

ReadBack read_all(LineSource source) {
  ReadBack all;
  RawLine line;
  while (source.next(line)) {
    if (line.line == 1) all.bytes += source.bom();
    CHECK(line.line == static_cast<std::int64_t>(all.lines.size()) + 1);
    all.offsets.push_back(line.offset);
    CHECK(line.offset == all.bytes.size());
    all.bytes += line.text;
    all.bytes += line.line_break;
    all.lines.emplace_back(line.text);
    all.breaks.emplace_back(line.line_break);
  }
  if (all.lines.empty()) all.bytes += source.bom();
  return all;
}

void check_both_ways(std::string const& bytes, std::vector<std::string> const& lines) {
  CAPTURE(bytes.substr(0, 80));
  ScratchFile const file(bytes);
  for (bool const from_file : {true, false}) {
    CAPTURE(from_file);
    ReadBack const all =
        read_all(from_file ? LineSource(file.path()) : LineSource::from_text(bytes, "memory"));
    CHECK(all.bytes == bytes);
    CHECK(all.lines == lines);
  }
}

std::string message_of(auto const& action) {
  try {
    action();
  } catch (Error const& error) {
    return error.what();
  }
  return "";
}

}  // namespace

TEST_SUITE("gcode") {
  TEST_CASE("every byte of a file comes back in a mark, a line or its break") {
    check_both_ways("", {});
    check_both_ways("\n", {""});
    check_both_ways("G1 X1", {"G1 X1"});
    check_both_ways("G1 X1\nG1 X2\n", {"G1 X1", "G1 X2"});
    check_both_ways("G1 X1\r\nG1 X2\r\n", {"G1 X1", "G1 X2"});
    check_both_ways("G1 X1\rG1 X2\r", {"G1 X1", "G1 X2"});
    check_both_ways("a\r\r\nb\n\rc", {"a", "", "b", "", "c"});
    check_both_ways("\xEF\xBB\xBFG1 X1\n", {"G1 X1"});
    check_both_ways("\xEF\xBB\xBF", {});
    check_both_ways("\xEF\xBBG1\n", {"\xEF\xBBG1"});
    check_both_ways("; caf\xE9 \xF0\x9F\xA7\xB5\tclip\n", {"; caf\xE9 \xF0\x9F\xA7\xB5\tclip"});
  }

  TEST_CASE("line breaks are distinguished") {
    auto const all = read_all(LineSource::from_text("a\nb\r\nc\rd", "memory"));
    CHECK(all.breaks == std::vector<std::string>{"\n", "\r\n", "\r", ""});
    CHECK(all.offsets == std::vector<std::uint64_t>{0, 2, 5, 7});
  }

  TEST_CASE("random bytes with random breaks come back unchanged across buffer borders") {
    std::mt19937 random(20);
    std::string bytes;
    std::size_t breaks = 0;
    while (bytes.size() < 5'000'000) {
      bytes.append(random() % 3 == 0 ? random() % 40'000 : random() % 30, 'x');
      bytes += std::string_view("\r\n\r\r\n\n").substr(random() % 5, 1 + random() % 2);
      ++breaks;
    }
    ScratchFile const file(bytes);
    auto const from_file = read_all(LineSource(file.path()));
    auto const from_memory = read_all(LineSource::from_text(bytes, "memory"));
    CHECK(from_file.bytes == bytes);
    CHECK(from_file.lines == from_memory.lines);
    CHECK(from_file.breaks == from_memory.breaks);
    CHECK(from_file.lines.size() >= breaks);
  }

  TEST_CASE("a CR LF pair on the border of the buffer stays one break") {
    for (std::size_t const length : {1'048'574U, 1'048'575U, 1'048'576U, 1'048'577U}) {
      CAPTURE(length);
      std::string const first(length, 'x');
      auto const bytes = first + "\r\nG28\r\n";
      ScratchFile const file(bytes);
      auto const all = read_all(LineSource(file.path()));
      CHECK(all.bytes == bytes);
      REQUIRE(all.breaks.size() == 2);
      CHECK(all.breaks[0] == "\r\n");
      CHECK(all.lines[1] == "G28");
    }
  }

  TEST_CASE("a line of twenty million characters is one line") {
    std::string const bytes = "G28\n;" + std::string(20'000'000, 'w') + "\nG1 X1\n";
    ScratchFile const file(bytes);
    auto const all = read_all(LineSource(file.path()));
    CHECK(all.bytes == bytes);
    REQUIRE(all.lines.size() == 3);
    CHECK(all.lines[1].size() == 20'000'001);
  }

  TEST_CASE("a million lines that end with CR alone take linear time") {
    std::string bytes;
    for (int i = 0; i < 1'000'000; ++i) bytes += "G1 X1 E1\r";
    auto const begin = std::chrono::steady_clock::now();
    LineSource source = LineSource::from_text(bytes, "memory");
    RawLine line;
    std::int64_t count = 0;
    while (source.next(line)) ++count;
    CHECK(count == 1'000'000);
    CHECK(std::chrono::steady_clock::now() - begin < std::chrono::seconds(5));
  }

  TEST_CASE("a NUL byte is refused with its place") {
    std::string const bytes("G28\nG1 X1\0\n", 11);
    ScratchFile const file(bytes);
    auto const message = message_of([&] { (void)read_all(LineSource(file.path())); });
    CHECK(message.starts_with(file.path() + ":2:6: is a binary file"));
    auto const memory = message_of([&] { (void)read_all(LineSource::from_text(bytes, "memory")); });
    CHECK(memory.starts_with("memory:2:6: is a binary file"));
  }

  TEST_CASE("lines long before a NUL byte are still read") {
    std::string bytes;
    for (int i = 0; i < 300'000; ++i) bytes += "G1 X1\n";
    bytes += '\0';
    ScratchFile const file(bytes);
    auto const message = message_of([&] { (void)read_all(LineSource(file.path())); });
    CHECK(message.starts_with(file.path() + ":300001:1: is a binary file"));
  }

  TEST_CASE("a missing file and a directory are refused with a hint") {
    auto const missing = message_of([] { LineSource const source("no/such/tray_feet.gcode"); });
    CHECK(missing.starts_with("no/such/tray_feet.gcode: cannot open"));
    CHECK(missing.find("\nCheck the spelling") != std::string::npos);
    auto const folder = fs::temp_directory_path().string();
    auto const directory = message_of([&] { LineSource const source(folder); });
    CHECK(directory.starts_with(folder + ": is a directory\n"));
  }

#ifndef _WIN32
  TEST_CASE("a pipe is read like a file, in whatever pieces it comes") {
    auto const path = ScratchFile("").path() + "-pipe";
    REQUIRE(mkfifo(path.c_str(), 0600) == 0);
    std::string bytes = "\xEF\xBB\xBF";
    for (int i = 0; i < 200'000; ++i) bytes += "G1 X" + std::to_string(i) + "\r\n";
    std::thread writer([&] {
      std::ofstream pipe(path, std::ios::binary);
      pipe << bytes.substr(0, 1) << std::flush << bytes.substr(1, 7) << std::flush;
      pipe << bytes.substr(8);
    });
    LineSource source(path);
    CHECK(source.size_bytes() == 0);
    auto const all = read_all(std::move(source));
    writer.join();
    fs::remove(path);
    CHECK(all.bytes == bytes);
    CHECK(all.lines.size() == 200'000);
  }
#endif

  TEST_CASE("a regular file knows its size, memory does not") {
    ScratchFile const file("G28\n");
    CHECK(LineSource(file.path()).size_bytes() == 4);
    CHECK(LineSource::from_text("G28\n", "memory").size_bytes() == 0);
    CHECK(LineSource(file.path()).name() == file.path());
  }

  TEST_CASE("a source that was moved goes on where it was") {
    LineSource first = LineSource::from_text("a\nb\n", "memory");
    RawLine line;
    REQUIRE(first.next(line));
    LineSource second = std::move(first);
    REQUIRE(second.next(line));
    CHECK(line.text == "b");
    CHECK(line.line == 2);
  }
}
