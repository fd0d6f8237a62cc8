// SPDX-License-Identifier: MIT
// Tables that people fill in: comma, semicolon or tab, decimal point or comma, columns in any
// order, units after numbers. What was assumed is stated in remarks().
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/base/error.hpp"

namespace meltlag {

enum class DecimalMark : std::uint8_t { unknown, point, comma };

// A header line and rows of cells. Lines that begin with '#' and lines without any text are passed
// over; a byte-order mark is skipped; quoted cells may hold separators and line breaks. Column
// names are compared without regard to case; what stands in () or [] after a name is ignored
// or taken as its end: "Mass (g)" is found as "mass" and as "mass_g".
class Sheet {
 public:
  // `name` is what errors call the text. Throws Error where there is no header line, where a column
  // is given twice, where a row has more cells than the header, or where the text is binary, UTF-16
  // or its quotes do not close.
  static Sheet parse(std::string_view text, std::string name);
  // Reads a file; "-" is standard input.
  static Sheet read(std::string const& path);

  [[nodiscard]] std::size_t rows() const { return rows_.size(); }
  [[nodiscard]] bool has(std::string_view column) const;
  [[nodiscard]] std::vector<std::string> const& columns() const { return columns_; }
  // Throws Error naming every missing column and those that are there.
  void require(std::span<std::string_view const> columns) const;

  // The cell without blanks around it; empty where the column or the cell is missing. `row` from 0.
  [[nodiscard]] std::string_view text(std::size_t row, std::string_view column) const;
  // The cell as a number; nothing where it is empty. A decimal comma is read where the columns are
  // not separated by commas or the cell is quoted. A unit after the number is ignored if it is
  // one of `units` ("mm"), refused otherwise. Throws Error with file:line:column for text, for
  // "1,234.5" and for what is not finite. A unit in the column's name is held to `units` likewise.
  [[nodiscard]] std::optional<double> number(std::size_t row,
                                             std::string_view column,
                                             std::span<std::string_view const> units) const;
  // Where the cell stands, for messages: line of the file and number of the column, both from 1.
  [[nodiscard]] Place place(std::size_t row, std::string_view column) const;
  [[nodiscard]] std::string const& name() const { return name_; }

  // "semicolons separate the columns", "12 decimal commas were read as points", …: one sentence
  // each.
  [[nodiscard]] std::vector<std::string> remarks() const;

 private:
  struct Row {
    std::size_t line = 0;
    std::vector<std::string> cells;
  };

  Sheet() = default;
  void take_header(std::vector<std::string> const& cells);
  void check_widths() const;
  void find_usual_mark();
  [[nodiscard]] std::optional<std::size_t> column_index(std::string_view column) const;

  std::string name_;
  char separator_ = ',';
  DecimalMark usual_mark_ = DecimalMark::unknown;
  std::size_t header_line_ = 0;
  std::vector<std::string> columns_;
  std::vector<std::size_t> positions_;  // the cell of each column; empty names have no column
  std::vector<Row> rows_;
  // Cells read so far, row·columns + column, for remarks().
  mutable std::set<std::size_t> decimal_commas_, units_;
};

}  // namespace meltlag
