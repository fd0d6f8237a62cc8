// SPDX-License-Identifier: MIT
#include "meltlag/compare/measured.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <span>

#include "meltlag/base/error.hpp"

namespace meltlag::compare {
namespace {

constexpr double largest_line = 1e15;
constexpr std::array<std::string_view, 1> mm{"mm"}, seconds{"s"}, grams{"g"}, newtons{"N"};
constexpr std::array<std::string_view, 2> flows{"mm3/s", "mm³/s"};
using Units = std::span<std::string_view const>;

struct ValueColumn {
  std::string_view name;
  MeasuredKind by_line, by_time;
  Units units;
};
// A force has no line and a width no time: those two stand for what is refused.
constexpr std::array<ValueColumn, 4> value_columns{{
    {"width_mm", MeasuredKind::width, MeasuredKind::width, mm},
    {"flow_mm3_s", MeasuredKind::line_flow, MeasuredKind::flow, flows},
    {"mass_g", MeasuredKind::mass, MeasuredKind::mass, grams},
    {"force_n", MeasuredKind::force, MeasuredKind::force, newtons},
}};

class RowReader {
 public:
  RowReader(Sheet const& sheet, std::size_t row) : sheet_(sheet), row_(row) {}

  // Nothing where the row holds no value.
  [[nodiscard]] std::optional<MeasuredRow> read() const {
    ValueColumn const* const column = value_column();
    if (column == nullptr) return {};
    MeasuredRow row;
    bool const timed = filled("t_s"), lined = filled("gcode_line");
    if (timed == lined) {
      throw Error(timed ? "the row names both a line and a time" : "the row names no place",
                  sheet_.place(row_, lined ? "t_s" : column->name),
                  "fill in gcode_line or t_s, one of the two");
    }
    row.kind = timed ? column->by_time : column->by_line;
    if (by_time(row.kind) != timed) {
      throw Error(fmt::format("{} by {} cannot be compared", column->name, timed ? "time" : "line"),
                  sheet_.place(row_, column->name),
                  timed ? "rows with t_s hold flow_mm3_s or force_n"
                        : "rows with gcode_line hold width_mm, flow_mm3_s or mass_g");
    }
    row.place = sheet_.place(row_, column->name);
    row.value = value(*column);
    if (timed) {
      row.t_s = *sheet_.number(row_, "t_s", seconds);
    } else {
      lines(row);
    }
    return row;
  }

 private:
  [[nodiscard]] bool filled(std::string_view column) const {
    return !sheet_.text(row_, column).empty();
  }
  [[nodiscard]] ValueColumn const* value_column() const {
    ValueColumn const* found = nullptr;
    for (ValueColumn const& column : value_columns) {
      if (!filled(column.name)) continue;
      if (found != nullptr) {
        throw Error(fmt::format("the row holds both {} and {}", found->name, column.name),
                    sheet_.place(row_, column.name),
                    "give each value a row of its own");
      }
      found = &column;
    }
    return found;
  }
  [[nodiscard]] double value(ValueColumn const& column) const {
    double const number = *sheet_.number(row_, column.name, column.units);
    if (number < 0 && column.by_line != MeasuredKind::force) {
      throw Error(fmt::format("{} is {:g}, below 0", column.name, number),
                  sheet_.place(row_, column.name),
                  "leave the cell empty where nothing was measured");
    }
    return number;
  }
  [[nodiscard]] std::int64_t line(std::string_view column) const {
    double const number = *sheet_.number(row_, column, {});
    if (number != std::floor(number) || number < 1 || number > largest_line) {
      throw Error(fmt::format("{} is {:g}, no line of a file", column, number),
                  sheet_.place(row_, column),
                  "count the file's lines from 1, as an editor does");
    }
    return static_cast<std::int64_t>(number);
  }
  void lines(MeasuredRow& row) const {
    row.line = row.to_line = line("gcode_line");
    if (row.kind == MeasuredKind::mass && filled("to_line")) row.to_line = line("to_line");
    if (row.to_line < row.line) {
      throw Error(fmt::format("to_line {} is before gcode_line {}", row.to_line, row.line),
                  sheet_.place(row_, "to_line"),
                  "give the first and the last line of what was weighed");
    }
    if (row.kind == MeasuredKind::width) row.at_mm = sheet_.number(row_, "at_mm", mm);
  }

  Sheet const& sheet_;
  std::size_t row_;
};

}  // namespace

std::string_view name_of(MeasuredKind kind) {
  switch (kind) {
    case MeasuredKind::width:
      return "width";
    case MeasuredKind::line_flow:
      return "flow of a line";
    case MeasuredKind::mass:
      return "mass";
    case MeasuredKind::flow:
      return "flow";
    case MeasuredKind::force:
      return "thrust";
  }
  return {};
}

std::string_view unit_of(MeasuredKind kind) {
  switch (kind) {
    case MeasuredKind::width:
      return "mm";
    case MeasuredKind::line_flow:
    case MeasuredKind::flow:
      return "mm³/s";
    case MeasuredKind::mass:
      return "g";
    case MeasuredKind::force:
      return "N";
  }
  return {};
}

std::vector<MeasuredRow> read_measured(Sheet const& sheet) {
  if (!sheet.has("gcode_line") && !sheet.has("t_s")) {
    constexpr std::array<std::string_view, 1> needed{"gcode_line"};
    sheet.require(needed);  // names what is there and what may be meant
  }
  std::vector<MeasuredRow> rows;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    if (auto const read = RowReader(sheet, row).read()) rows.push_back(*read);
  }
  if (rows.empty()) {
    throw Error("no row holds a measured value",
                {.file = sheet.name()},
                "columns: gcode_line with width_mm, flow_mm3_s or mass_g; t_s with flow_mm3_s or "
                "force_n");
  }
  return rows;
}

}  // namespace meltlag::compare
