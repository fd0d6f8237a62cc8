// SPDX-License-Identifier: MIT
// Text for people and for programs: aligned tables, CSV.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace meltlag::report {

// What a report says in words, one by one.
using Sentences = std::vector<std::string>;

enum class Align : std::uint8_t { left, right };

struct Column {
  std::string name, unit;  // the unit stands under the name
  std::size_t width;       // in characters; longer cells push the rest
  Align align = Align::right;
};

// A table whose rows can be written as they come: widths are fixed.
class Table {
 public:
  explicit Table(std::vector<Column> columns) : columns_(std::move(columns)) {}
  // Two lines: names and units.
  [[nodiscard]] std::string header() const;
  // Appends a line; `cells` in the order of the columns.
  void append_row(std::string& out, std::vector<std::string> const& cells) const;

 private:
  std::vector<Column> columns_;
};

// Characters that a UTF-8 text shows.
[[nodiscard]] std::size_t shown_width(std::string_view text);

// "1.235": so many decimals, without trailing zeros after the point; "–" for NaN.
[[nodiscard]] std::string number(double value, int decimals);
// The same with the point where it is, zeros kept.
[[nodiscard]] std::string fixed(double value, int decimals);
// "4.70 ± 0.31": both to the second digit of the deviation; three digits and no ± where it is 0.
[[nodiscard]] std::string plus_minus(double value, double sd);
// "4.1 to 5.3": both to the second digit of the deviation.
[[nodiscard]] std::string range(double low, double high, double sd);
// "12.3 %" of a share.
[[nodiscard]] std::string percent(double share);
// "1 h 04 min", "3 min 20 s", "12.3 s".
[[nodiscard]] std::string duration(double seconds);

// `text` without what is longer than `width` characters; the last one is then "…".
[[nodiscard]] std::string cut_to(std::string_view text, std::size_t width);
// The same, but cut before the last `kept_words` words: what is done to a part tells more than the
// rest of its name.
[[nodiscard]] std::string cut_keeping_end(std::string_view text,
                                          std::size_t width,
                                          std::size_t kept_words);
// Several names in one column: where one is too long, the words that all begin with are left out
// first, "…" in their place, as the others tell them apart.
[[nodiscard]] std::vector<std::string> cut_apart(std::vector<std::string> const& names,
                                                 std::size_t width);

// "- text" as an item of a list, broken at blanks to at most 80 columns, with its line break.
[[nodiscard]] std::string list_item(std::string_view text);
// One item for each.
[[nodiscard]] std::string item_list(Sentences const& sentences);

// The same without the dash: sentences as lines of at most 80 columns.
[[nodiscard]] std::string paragraph(std::string_view text);

// One field of CSV after RFC 4180: quoted where it holds a comma, a quote or a line break.
[[nodiscard]] std::string csv_field(std::string_view text);

}  // namespace meltlag::report
