// SPDX-License-Identifier: MIT
#include "meltlag/gcode/source.hpp"

#include <cstring>
#include <optional>
#include <utility>
#include <vector>

#include "input_file.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"

namespace meltlag::gcode {

// The bytes not yet handed out are data[begin, end). For a file, `data` is `buffer`, which grows
// only when one line is longer than it.
struct LineSource::State {
  // Columns are counted in 32 bits.
  static constexpr std::size_t longest_line = std::size_t{1} << 30;
  static constexpr std::size_t buffer_bytes = std::size_t{1} << 20;
  static constexpr std::string_view mark = "\xEF\xBB\xBF";

  std::string name;
  std::optional<InputFile> file;  // none when reading from memory
  std::vector<char> buffer;
  char const* data = nullptr;
  std::size_t begin = 0, end = 0;
  std::size_t scanned = 0;  // data[begin, scanned) is known to hold no line break
  std::size_t newline = 0;  // first '\n' in data[scanned, end), or end, if `newline_known`
  bool newline_known = false;
  char const* first_nul = nullptr;  // in data[begin, end), or none
  std::uint64_t offset = 0;         // of data[begin] in the file
  std::int64_t line = 0;
  bool at_end = false;  // nothing follows data[end)
  bool has_mark = false;

  // Gets more bytes after those not yet handed out. REQUIRES: !at_end.
  void fill() {
    std::size_t const kept = end - begin;
    if (begin > 0) std::memmove(buffer.data(), buffer.data() + begin, kept);
    scanned -= begin;
    if (buffer.empty()) buffer.resize(buffer_bytes);
    if (kept >= longest_line) {
      throw Error("this line is longer than a gigabyte",
                  {.file = name, .line = line},
                  "Is it the right file? G-code has line breaks.");
    }
    if (kept == buffer.size()) buffer.resize(2 * kept);
    std::size_t const space = buffer.size() - kept;
    std::size_t const got = file->read(buffer.data() + kept, space);
    data = buffer.data();
    begin = 0;
    end = kept + got;
    at_end = got < space;
    newline_known = false;
    first_nul = find(0, '\0', end);
  }

  [[nodiscard]] char const* find(std::size_t from, char c, std::size_t until) const {
    if (from >= until) return nullptr;
    return static_cast<char const*>(std::memchr(data + from, c, until - from));
  }

  void skip_mark() {
    while (end - begin < mark.size() && !at_end) fill();
    if (!std::string_view(data + begin, end - begin).starts_with(mark)) return;
    has_mark = true;
    begin += mark.size();
    scanned = begin;
    offset += mark.size();
  }

  // Remembered, so that a file whose lines end with CR alone is not searched to its end for each
  // line.
  std::size_t find_newline() {
    if (!newline_known || newline < scanned) {
      char const* const found = find(scanned, '\n', end);
      newline = found != nullptr ? static_cast<std::size_t>(found - data) : end;
      newline_known = true;
    }
    return newline;
  }

  // Position of the first line break at or after `scanned`, or `end` when the file ends without
  // one. A CR as the last byte so far is not decided before the next byte is known.
  std::size_t find_break() {
    for (;;) {
      std::size_t const until = find_newline();
      char const* const carriage = find(scanned, '\r', until);
      auto const stop = carriage != nullptr ? static_cast<std::size_t>(carriage - data) : until;
      if (at_end || stop + 1 < end || (stop < end && data[stop] == '\n')) return stop;
      scanned = stop;
      fill();
    }
  }

  [[nodiscard]] std::size_t break_length(std::size_t stop) const {
    if (stop == end) return 0;
    return data[stop] == '\r' && stop + 1 < end && data[stop + 1] == '\n' ? 2 : 1;
  }

  void tell() const {
    if (auto const size = static_cast<double>(file->size_bytes()); size > 0)
      tell_progress(static_cast<double>(offset) / size);
  }

  void check_nul(std::size_t stop) const {
    if (first_nul == nullptr || first_nul >= data + stop) return;
    throw Error("is a binary file: it holds a NUL byte",
                {.file = name, .line = line, .column = first_nul - (data + begin) + 1},
                "Give the G-code as plain text; some slicers can export binary files as well.");
  }
};

LineSource::LineSource(std::unique_ptr<State> state) : state_(std::move(state)) {}
LineSource::LineSource(LineSource&&) noexcept = default;
LineSource::~LineSource() = default;

LineSource::LineSource(std::string const& path) : state_(std::make_unique<State>()) {
  state_->name = path == "-" ? "standard input" : path;
  state_->file.emplace(path);
}

LineSource LineSource::from_text(std::string_view text, std::string name) {
  auto state = std::make_unique<State>();
  state->name = std::move(name);
  state->data = text.data();
  state->end = text.size();
  state->at_end = true;
  state->first_nul = state->find(0, '\0', state->end);
  return LineSource(std::move(state));
}

bool LineSource::next(RawLine& line) {
  State& s = *state_;
  constexpr std::int64_t lines_between_news = 256;
  if (s.line % lines_between_news == 0 && s.file && progress_is_watched()) s.tell();
  if (s.line == 0) s.skip_mark();
  if (s.begin == s.end && !s.at_end) s.fill();
  if (s.begin == s.end) return false;
  ++s.line;
  std::size_t const stop = s.find_break();
  s.check_nul(stop);
  std::size_t const next = stop + s.break_length(stop);
  line.text = {s.data + s.begin, stop - s.begin};
  line.line_break = {s.data + stop, next - stop};
  line.line = s.line;
  line.offset = s.offset;
  s.offset += next - s.begin;
  s.begin = s.scanned = next;
  return true;
}

std::string_view LineSource::bom() const {
  return state_->has_mark ? State::mark : std::string_view{};
}
std::string const& LineSource::name() const { return state_->name; }
std::uint64_t LineSource::size_bytes() const {
  return state_->file ? state_->file->size_bytes() : 0;
}

}  // namespace meltlag::gcode
