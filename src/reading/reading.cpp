// SPDX-License-Identifier: MIT
#include "meltlag/reading/reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "meltlag/base/text.hpp"

namespace meltlag::reading {
namespace {

constexpr std::array<std::pair<ReadingKind, std::string_view>, 6> kinds{{
    {ReadingKind::width, "width"},
    {ReadingKind::place_at_width, "place_at_width"},
    {ReadingKind::tail, "tail"},
    {ReadingKind::gap, "gap"},
    {ReadingKind::mass, "mass"},
    {ReadingKind::height, "height"},
}};
constexpr double place_slack_mm = 0.01;

std::span<std::string_view const> units_of(ReadingKind kind) {
  static constexpr std::array<std::string_view, 1> mm{"mm"}, g{"g"};
  return kind == ReadingKind::mass ? std::span<std::string_view const>(g) : mm;
}

class RowReader {
 public:
  RowReader(Sheet const& sheet, PrintedPath const& path, std::size_t row)
      : sheet_(sheet), path_(path), row_(row) {}

  enum class Empty : std::uint8_t { passed_over, read };
  Reading read(Empty empty) {
    Reading reading;
    reading.row = number_on_map();
    reading.trace = text("trace");
    reading.note = text("note");
    reading.kind = kind();
    reading.place = sheet_.place(row_, "value");
    reading.value = sheet_.number(row_, "value", units_of(reading.kind));
    if (!reading.value && empty == Empty::passed_over) return reading;
    if (reading.value && *reading.value < 0)
      fail("value", "a reading cannot be negative", "leave the cell empty where nothing was read");
    reading.ruler_mm = number("ruler_mm", 0);
    reading.expected = sheet_.number(row_, "expected", units_of(reading.kind));
    lines(reading);
    reading.length_mm = number("length_mm", 0);
    reading.sd_mm = number("sd_mm", 0);
    if (reading.kind == ReadingKind::place_at_width) reading.locked_mm = locked(reading.note);
    return reading;
  }

 private:
  [[nodiscard]] std::string text(std::string_view column) const {
    return std::string{sheet_.text(row_, column)};
  }
  [[noreturn]] void fail(std::string_view column, std::string what, std::string hint) const {
    throw Error(std::move(what), sheet_.place(row_, column), std::move(hint));
  }
  // The column `row`; sheets without one are counted through.
  [[nodiscard]] int number_on_map() const {
    std::optional<double> const row = sheet_.number(row_, "row", {});
    if (!row) return static_cast<int>(row_) + 1;
    if (*row < 1 || *row != std::floor(*row) || *row > 1e6)
      fail("row",
           fmt::format("{:g} is no number of the map", *row),
           "take it from the sheet as written");
    return static_cast<int>(*row);
  }
  [[nodiscard]] double number(std::string_view column, double otherwise) const {
    return sheet_.number(row_, column, units_of(ReadingKind::width)).value_or(otherwise);
  }

  [[nodiscard]] ReadingKind kind() const {
    std::string_view const word = sheet_.text(row_, "kind");
    for (auto const& [kind, name] : kinds)
      if (word == name) return kind;
    fail("kind",
         fmt::format("there is no kind '{}'", word),
         "kinds are width, place_at_width, tail, gap, mass and height");
  }

  void lines(Reading& reading) const {
    reading.lines = whole_numbers("lines");
    if (reading.lines.empty() && reading.kind != ReadingKind::mass &&
        reading.kind != ReadingKind::height)
      fail("lines", "the row names no line of the file", "take the row from the sheet as written");
    std::vector<double> at = numbers("at_mm");
    if (at.empty()) at.push_back(0);
    if (at.size() != 1 && at.size() != reading.lines.size())
      fail("at_mm",
           fmt::format("{} places for {} lines", at.size(), reading.lines.size()),
           "give one place for all lines, or one for each");
    at.resize(reading.lines.size(), at.front());
    for (std::size_t i = 0; i < reading.lines.size(); ++i) check_line(reading, i, at[i]);
    reading.at_mm = std::move(at);
  }

  void check_line(Reading const& reading, std::size_t i, double at_mm) const {
    std::int64_t const line = reading.lines[i];
    if (line < 1 || line > path_.lines)
      fail("lines",
           fmt::format(
               "line {} is outside of {}, which has {} lines", line, path_.name, path_.lines),
           "give the file that this sheet was written with");
    auto const found = path_.move_of_line.find(line);
    if (found == path_.move_of_line.end())
      fail("lines",
           fmt::format("line {} of {} moves nothing", line, path_.name),
           "give the file that this sheet was written with");
    PathMove const& move = path_.moves[found->second];
    if (reading.kind == ReadingKind::mass || reading.kind == ReadingKind::height) return;
    if (move.length_mm() == 0)
      fail(
          "lines",
          fmt::format("line {} of {} does not move the head: no bead lies there", line, path_.name),
          "give the file that this sheet was written with");
    if (at_mm < -place_slack_mm || at_mm > move.length_mm() + place_slack_mm)
      fail("at_mm",
           fmt::format("{:g} mm is outside of the move in line {}, which is {:.3f} mm long",
                       at_mm,
                       line,
                       move.length_mm()),
           "give the file that this sheet was written with");
  }

  // Numbers separated by blanks.
  [[nodiscard]] std::vector<double> numbers(std::string_view column) const {
    std::string cell{sheet_.text(row_, column)};
    std::replace(cell.begin(), cell.end(), ',', '.');  // as some spreadsheets write them back
    std::string_view rest = cell;
    std::vector<double> out;
    while (!(rest = trim(rest)).empty()) {
      double number = 0;
      auto const read = std::from_chars(rest.data(), rest.data() + rest.size(), number);
      bool const ends = read.ptr == rest.data() + rest.size() || is_blank(*read.ptr);
      if (read.ec != std::errc{} || !ends || !std::isfinite(number))
        fail(column,
             fmt::format("cannot read '{}'", rest.substr(0, rest.find(' '))),
             "numbers here are written as in the sheet: with points, separated by blanks");
      out.push_back(number);
      rest.remove_prefix(static_cast<std::size_t>(read.ptr - rest.data()));
    }
    return out;
  }
  [[nodiscard]] std::vector<std::int64_t> whole_numbers(std::string_view column) const {
    std::vector<std::int64_t> out;
    for (double const number : numbers(column)) {
      if (number != std::floor(number) || std::abs(number) > 1e15)
        fail(column, fmt::format("{:g} is no line number", number), "lines are whole numbers");
      out.push_back(static_cast<std::int64_t>(number));
    }
    return out;
  }

  // The first number in the note.
  [[nodiscard]] double locked(std::string const& note) const {
    std::size_t const digit = note.find_first_of("0123456789");
    double width = 0;
    if (digit != std::string::npos) {
      std::string word = note.substr(digit);
      std::replace(word.begin(), word.end(), ',', '.');
      std::from_chars(word.data(), word.data() + word.size(), width);
    }
    if (!(width > 0))
      fail("note",
           "the note does not say what width the calipers were locked at",
           "write it as \"locked at 0.85 mm\"");
    return width;
  }

  Sheet const& sheet_;
  PrintedPath const& path_;
  std::size_t row_;
};

// After RFC 4180: quoted where it holds a comma or a quote.
std::string cell(std::string const& text) {
  if (text.find_first_of(",\"\n") == std::string::npos) return text;
  std::string out = "\"";
  for (char const c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + '"';
}

std::string joined(std::vector<std::int64_t> const& lines) {
  return fmt::format("{}", fmt::join(lines, " "));
}

std::string joined_places(std::vector<double> const& at_mm) {
  bool const same =
      std::all_of(at_mm.begin(), at_mm.end(), [&](double at) { return at == at_mm[0]; });
  if (at_mm.empty()) return {};
  if (same) return fmt::format("{:.3f}", at_mm[0]);
  std::string out;
  for (double const at : at_mm) out += fmt::format("{}{:.3f}", out.empty() ? "" : " ", at);
  return out;
}

std::string expected_text(Reading const& reading) {
  return reading.expected ? fmt::format("{:.2f}", *reading.expected) : std::string{};
}

}  // namespace

std::string_view name_of(ReadingKind kind) {
  return std::find_if(kinds.begin(), kinds.end(), [kind](auto const& k) { return k.first == kind; })
      ->second;
}

std::string write_sheet(std::span<Reading const> readings) {
  std::string out = "row,trace,ruler_mm,kind,value,expected,lines,at_mm,note\n";
  int row = 0;  // as the map counts
  for (Reading const& reading : readings)
    out += fmt::format("{},{},{:.0f},{},,{},{},{},{}\n",
                       ++row,
                       cell(reading.trace),
                       reading.ruler_mm,
                       name_of(reading.kind),
                       expected_text(reading),
                       joined(reading.lines),
                       joined_places(reading.at_mm),
                       cell(reading.note));
  return out;
}

std::vector<Reading> read_readings(Sheet const& sheet, PrintedPath const& path) {
  static constexpr std::array<std::string_view, 6> needed{
      "trace", "ruler_mm", "kind", "value", "lines", "at_mm"};
  sheet.require(needed);
  std::vector<Reading> readings;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    Reading reading = RowReader(sheet, path, row).read(RowReader::Empty::passed_over);
    if (reading.value) readings.push_back(std::move(reading));
  }
  return readings;
}

std::vector<Reading> read_all_rows(Sheet const& sheet, PrintedPath const& path) {
  std::vector<Reading> rows;
  for (std::size_t row = 0; row < sheet.rows(); ++row)
    rows.push_back(RowReader(sheet, path, row).read(RowReader::Empty::read));
  return rows;
}

std::optional<double> layer_height_mm(PrintedPath const& path, std::span<Reading const> readings) {
  auto const height = [&](std::int64_t line) {
    return path.moves[path.move_of_line.at(line)].timed.move.start_mm.z;
  };
  std::vector<double> steps;
  std::optional<double> lowest;
  for (Reading const& reading : readings) {
    for (std::size_t i = 0; i < reading.lines.size(); ++i) {
      double const z = height(reading.lines[i]);
      if (z > 0 && (!lowest || z < *lowest)) lowest = z;
      if (i > 0 && z > height(reading.lines[i - 1]))
        steps.push_back(z - height(reading.lines[i - 1]));
    }
  }
  if (steps.empty()) return lowest;
  auto const middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

}  // namespace meltlag::reading
