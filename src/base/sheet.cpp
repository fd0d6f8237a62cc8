// SPDX-License-Identifier: MIT
#include "meltlag/base/sheet.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cassert>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iostream>

#include "meltlag/base/system.hpp"
#include "meltlag/base/text.hpp"
#include "sheet_cells.hpp"
#include "sheet_number.hpp"

namespace meltlag {
namespace {

constexpr std::size_t largest_bytes = 8 << 20;

std::string lower(std::string_view text) {
  std::string result{text};
  for (char& c : result)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return result;
}

// "Mass (g)" is {"mass", "g"}; blanks within a name count as underscores.
struct ColumnName {
  std::string base, bracketed;
};

ColumnName parts_of(std::string_view name) {
  std::size_t const open = std::min(name.find_first_of("(["), name.size());
  std::size_t const close = std::min(name.find_first_of(")]", open), name.size());
  ColumnName parts{.base = lower(trim(name.substr(0, open))), .bracketed = {}};
  if (open < close) parts.bracketed = lower(trim(name.substr(open + 1, close - open - 1)));
  std::ranges::replace(parts.base, ' ', '_');
  return parts;
}

bool is_called(std::string_view header, std::string_view wanted) {
  ColumnName const name = parts_of(header);
  std::string const low = lower(wanted);
  return name.base == low || (!name.bracketed.empty() && name.base + "_" + name.bracketed == low);
}

bool same_unit(std::string_view a, std::string_view b) { return lower(a) == lower(b); }

bool is_among(std::string_view unit, std::span<std::string_view const> units) {
  return std::ranges::any_of(units, [&](std::string_view known) { return same_unit(unit, known); });
}

// What brackets after a column's name may hold and mean a unit.
constexpr auto common_units = std::to_array<std::string_view>(
    {"mm",         "cm",           "m",         "um", "\xC2\xB5m", "in",   "inch",  "\"",  "s",
     "sec",        "ms",           "min",       "h",  "g",         "kg",   "mg",    "n",   "kn",
     "lb",         "oz",           "%",         "ml", "mm/min",    "mm/s", "mm3/s", "mm3", "cm3",
     "mm\xC2\xB3", "mm\xC2\xB3/s", "cm\xC2\xB3"});

std::string described(std::span<std::string_view const> units) {
  if (units.empty()) return "give the number alone";
  return fmt::format("give it in {}, or the number alone", units.front());
}

std::string name_of(char separator) {
  switch (separator) {
    case ';':
      return "semicolons";
    case '\t':
      return "tabs";
    case ',':
      return "commas";
    default:
      return fmt::format("'{}'", separator);
  }
}

std::string read_all(std::istream& in, std::string const& name) {
  std::string text(largest_bytes + 1, '\0');
  in.read(text.data(), static_cast<std::streamsize>(text.size()));
  text.resize(static_cast<std::size_t>(in.gcount()));
  if (in.bad())
    throw Error(fmt::format("cannot read the table: {}", std::strerror(errno)),
                {.file = name},
                "check the disk or the connection and try again");
  if (text.size() > largest_bytes)
    throw Error(
        "this is too large for a table filled in by hand", {.file = name}, "is it the right file?");
  return text;
}

std::string counted(std::size_t count, char const* one, char const* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

}  // namespace

Sheet Sheet::parse(std::string_view text, std::string name) {
  Sheet sheet;
  sheet.name_ = std::move(name);
  CellTable table = split_cells(text, sheet.name_);
  if (table.rows.empty())
    throw Error("this table is empty",
                {.file = sheet.name_},
                "its first line names the columns, the lines below hold the values");
  sheet.separator_ = table.separator;
  sheet.header_line_ = table.rows.front().line;
  sheet.take_header(table.rows.front().cells);
  for (auto row = table.rows.begin() + 1; row != table.rows.end(); ++row)
    sheet.rows_.push_back({row->line, std::move(row->cells)});
  sheet.check_widths();
  sheet.find_usual_mark();
  return sheet;
}

Sheet Sheet::read(std::string const& path) {
  if (path == "-") return parse(read_all(std::cin, "standard input"), "standard input");
  errno = 0;
  std::error_code ignored;
  bool const directory = std::filesystem::is_directory(system::path_of(path), ignored);
  std::ifstream file(system::path_of(path), std::ios::binary);
  if (directory || !file)
    throw Error(fmt::format("cannot read the table: {}",
                            std::strerror(directory ? EISDIR : (errno ? errno : EIO))),
                {.file = path},
                "check the name and that you may read it");
  return parse(read_all(file, path), path);
}

void Sheet::take_header(std::vector<std::string> const& cells) {
  Place place{.file = name_, .line = static_cast<std::int64_t>(header_line_)};
  bool names = false;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (cells[i].empty()) continue;
    place.column = static_cast<std::int64_t>(i) + 1;
    if (column_index(cells[i]))
      throw Error(fmt::format("column '{}' is given twice", cells[i]), place, "rename one of them");
    names = names ||
            read_cell_number(cells[i], DecimalMark::unknown).problem == NumberProblem::no_number;
    columns_.push_back(cells[i]);
    positions_.push_back(i);
  }
  place.column = 0;
  if (!names)
    throw Error("values stand where the names of the columns should",
                place,
                "let the first line name the columns");
}

// Decimal commas in a table separated by commas show as too many cells.
void Sheet::check_widths() const {
  std::size_t const wanted = positions_.back() + 1;
  for (Row const& row : rows_) {
    std::size_t used = row.cells.size();
    while (used > wanted && row.cells[used - 1].empty()) --used;
    if (used <= wanted) continue;
    throw Error(
        fmt::format("this row has {} cells, the header names {}", used, wanted),
        {.file = name_, .line = static_cast<std::int64_t>(row.line)},
        separator_ == ','
            ? "if decimal commas are used, separate the columns with semicolons, or write 4.3 "
              "for 4,3; put text that holds commas into quotes"
            : fmt::format("take out the surplus {}, or put the cell into quotes",
                          name_of(separator_)));
  }
}

void Sheet::find_usual_mark() {
  if (separator_ == ',') {
    usual_mark_ = DecimalMark::point;
    return;
  }
  bool point = false, comma = false;
  for (Row const& row : rows_)
    for (std::string const& cell : row.cells) {
      DecimalMark const mark = mark_shown(cell);
      point = point || mark == DecimalMark::point;
      comma = comma || mark == DecimalMark::comma;
    }
  if (point != comma) usual_mark_ = comma ? DecimalMark::comma : DecimalMark::point;
}

std::optional<std::size_t> Sheet::column_index(std::string_view column) const {
  for (std::size_t i = 0; i < columns_.size(); ++i)
    if (is_called(columns_[i], column)) return i;
  return std::nullopt;
}

bool Sheet::has(std::string_view column) const { return column_index(column).has_value(); }

void Sheet::require(std::span<std::string_view const> columns) const {
  std::vector<std::string> missing;
  for (std::string_view const column : columns)
    if (!has(column)) missing.push_back(fmt::format("'{}'", column));
  if (missing.empty()) return;
  std::string what = fmt::format("this table has no column {}", fmt::join(missing, ", "));
  std::string const first = missing.front().substr(1, missing.front().size() - 2);
  std::string const near = nearest(first, columns_);
  bool const misspelt = edit_distance(lower(near), first) <= 1 + first.size() / 3;
  if (misspelt) what += fmt::format("; is '{}' meant to be '{}'?", near, first);
  throw Error(what,
              {.file = name_, .line = static_cast<std::int64_t>(header_line_)},
              fmt::format("its columns are: {}", fmt::join(columns_, ", ")));
}

std::string_view Sheet::text(std::size_t row, std::string_view column) const {
  assert(row < rows_.size());
  auto const index = column_index(column);
  if (!index || positions_[*index] >= rows_[row].cells.size()) return {};
  return rows_[row].cells[positions_[*index]];
}

Place Sheet::place(std::size_t row, std::string_view column) const {
  assert(row < rows_.size());
  auto const index = column_index(column);
  return {.file = name_,
          .line = static_cast<std::int64_t>(rows_[row].line),
          .column = index ? static_cast<std::int64_t>(positions_[*index]) + 1 : 0};
}

std::optional<double> Sheet::number(std::size_t row,
                                    std::string_view column,
                                    std::span<std::string_view const> units) const {
  std::string_view const cell = text(row, column);
  if (cell.empty()) return std::nullopt;
  std::size_t const index = column_index(column).value();
  CellNumber const number = read_cell_number(cell, usual_mark_);
  if (number.problem != NumberProblem::none)
    throw Error(problem_text(number.problem, cell, columns_[index]),
                place(row, column),
                remedy(number.problem));
  std::string const bracketed = parts_of(columns_[index]).bracketed;
  if (!bracketed.empty() && is_among(bracketed, common_units) && !is_among(bracketed, units))
    throw Error(fmt::format("column '{}' has a unit that does not fit", columns_[index]),
                {.file = name_,
                 .line = static_cast<std::int64_t>(header_line_),
                 .column = static_cast<std::int64_t>(positions_[index]) + 1},
                described(units));
  if (!number.unit.empty() && !is_among(number.unit, units))
    throw Error(
        fmt::format(
            "'{}' in column {}: the unit '{}' does not fit", cell, columns_[index], number.unit),
        place(row, column),
        described(units));
  std::size_t const key = row * columns_.size() + index;
  if (number.decimal_comma) decimal_commas_.insert(key);
  if (!number.unit.empty()) units_.insert(key);
  return number.value;
}

std::vector<std::string> Sheet::remarks() const {
  std::vector<std::string> remarks;
  if (separator_ != ',') remarks.push_back(name_of(separator_) + " separate the columns");
  if (!decimal_commas_.empty())
    remarks.push_back(counted(decimal_commas_.size(),
                              "decimal comma was read as a point",
                              "decimal commas were read as points"));
  if (!units_.empty())
    remarks.push_back(counted(
        units_.size(), "unit after a number was ignored", "units after numbers were ignored"));
  return remarks;
}

}  // namespace meltlag
