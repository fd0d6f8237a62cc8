// SPDX-License-Identifier: MIT
#include "sheet_cells.hpp"

#include <csv.h>

#include <algorithm>
#include <array>
#include <new>
#include <optional>
#include <utility>

#include "meltlag/base/error.hpp"
#include "meltlag/base/text.hpp"

namespace meltlag {
namespace {

constexpr char const* export_hint =
    "in the spreadsheet choose 'save as' or 'export', kind CSV, character set UTF-8";

void check_encoding(std::string_view text, std::string const& name) {
  bool const marked = text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF");
  bool const unmarked = text.size() >= 2 && (text[0] == '\0') != (text[1] == '\0');
  if (marked || unmarked)
    throw Error("this table is written in UTF-16, not in UTF-8", {.file = name}, export_hint);
  if (text.starts_with("PK\x03\x04") || text.starts_with("\xD0\xCF\x11\xE0"))
    throw Error("this is a spreadsheet's own file, not CSV", {.file = name}, export_hint);
  std::size_t const zero = text.find('\0');
  if (zero == std::string_view::npos) return;
  auto const line =
      std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(zero), '\n');
  throw Error(
      "this file is binary, not a table of text", {.file = name, .line = line + 1}, export_hint);
}

// Takes one line with its break off the front of `text`; a lone CR breaks lines too.
std::string_view take_line(std::string_view& text) {
  std::size_t const end = text.find_first_of("\r\n");
  std::size_t size = end == std::string_view::npos ? text.size() : end + 1;
  if (text.substr(0, size).ends_with('\r') && size < text.size() && text[size] == '\n') ++size;
  std::string_view const line = text.substr(0, size);
  text.remove_prefix(size);
  return line;
}

std::string_view content_of(std::string_view line) {
  while (line.ends_with('\n') || line.ends_with('\r')) line.remove_suffix(1);
  return trim(line);
}

// A first line "sep=;" is how some spreadsheets say what parts the columns.
char stated_separator(std::string_view line) {
  std::string_view const content = content_of(line);
  if (!contains_ignoring_case(content.substr(0, 4), "SEP=") || content.size() > 5) return '\0';
  return content.size() == 5 ? content[4] : '\t';
}

// The separator that comes most often outside quotes and brackets.
char likely_separator(std::string_view header) {
  constexpr std::array<char, 3> separators{';', '\t', ','};
  std::array<int, 3> counts{};
  bool quoted = false;
  int brackets = 0;
  for (char const c : header) {
    if (c == '"') quoted = !quoted;
    if (quoted) continue;
    if (c == '(' || c == '[') ++brackets;
    if ((c == ')' || c == ']') && brackets > 0) --brackets;
    if (brackets > 0) continue;
    for (std::size_t i = 0; i < separators.size(); ++i) counts[i] += c == separators[i] ? 1 : 0;
  }
  auto const most = std::ranges::max_element(counts);
  return *most > 0 ? separators[static_cast<std::size_t>(most - counts.begin())] : ',';
}

std::string cleaned(std::string text) {
  for (std::string_view const blank : {"\xC2\xA0", "\xE2\x80\xAF", "\xE2\x80\x87"})
    for (std::size_t at = 0; (at = text.find(blank, at)) != std::string::npos;)
      text.replace(at, blank.size(), " ");
  return std::string{trim(text)};
}

class Splitter {
 public:
  Splitter(char separator, std::string const& name) : name_(name) {
    if (csv_init(&parser_, CSV_STRICT | CSV_STRICT_FINI) != 0) throw std::bad_alloc();
    csv_set_delim(&parser_, static_cast<unsigned char>(separator));
  }
  Splitter(Splitter const&) = delete;
  Splitter& operator=(Splitter const&) = delete;
  ~Splitter() { csv_free(&parser_); }

  void feed(std::string_view line, std::size_t number) {
    if (!open_ && (content_of(line).empty() || content_of(line).starts_with('#'))) return;
    if (!open_) row_.line = number;
    open_ = true;
    bool const read =
        csv_parse(&parser_, line.data(), line.size(), &add_cell, &end_row, this) == line.size();
    if (!read) refuse_quotes(number);
  }

  std::vector<CellRow> finish() {
    if (csv_fini(&parser_, &add_cell, &end_row, this) != 0) refuse_quotes(0);
    return std::move(rows_);
  }

 private:
  static void add_cell(void* text, std::size_t size, void* self) {
    static_cast<Splitter*>(self)->row_.cells.push_back(
        cleaned({static_cast<char const*>(text), size}));
  }

  static void end_row(int, void* self) {
    auto& splitter = *static_cast<Splitter*>(self);
    CellRow row = std::exchange(splitter.row_, {});
    splitter.open_ = false;
    bool const empty = std::ranges::all_of(row.cells, [](auto const& c) { return c.empty(); });
    if (!empty && !row.cells.front().starts_with('#')) splitter.rows_.push_back(std::move(row));
  }

  // `line` is where reading stopped, 0 for the end of the text.
  [[noreturn]] void refuse_quotes(std::size_t line) {
    if (csv_error(&parser_) == CSV_ENOMEM) throw std::bad_alloc();
    Place const place{.file = name_, .line = static_cast<std::int64_t>(row_.line)};
    if (line == row_.line)
      throw Error("a quotation mark stands within a cell",
                  place,
                  "put the whole cell in quotes and double those within it, or leave them out");
    throw Error("quotes that open in this row do not close",
                place,
                "end the cell with \", and write a \" within quotes as \"\"");
  }

  std::string const& name_;
  csv_parser parser_{};
  CellRow row_;
  std::vector<CellRow> rows_;
  bool open_ = false;  // a row has begun
};

}  // namespace

CellTable split_cells(std::string_view text, std::string const& name) {
  check_encoding(text, name);
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  CellTable table;
  table.separator = '\0';
  std::optional<Splitter> splitter;
  for (std::size_t number = 1; !text.empty(); ++number) {
    std::string_view const line = take_line(text);
    if (!splitter) {
      std::string_view const content = content_of(line);
      if (content.empty() || content.starts_with('#')) continue;
      if (number == 1) table.separator = stated_separator(line);
      if (number == 1 && table.separator) continue;
      if (!table.separator) table.separator = likely_separator(line);
      splitter.emplace(table.separator, name);
    }
    splitter->feed(line, number);
  }
  if (splitter) table.rows = splitter->finish();
  return table;
}

}  // namespace meltlag
