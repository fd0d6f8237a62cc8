// SPDX-License-Identifier: MIT
// The measurement sheet as text.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <sstream>
#include <stdexcept>

#include "measure.hpp"

namespace meltlag_reference {
namespace {

std::vector<std::vector<std::string>> split_cells(std::string_view csv) {
  std::vector<std::vector<std::string>> rows;
  std::vector<std::string> row(1);
  bool quoted = false;
  const auto end_row = [&] {
    if (row.size() > 1 || !row.front().empty()) rows.push_back(row);
    row.assign(1, "");
  };
  for (std::size_t i = 0; i < csv.size(); ++i) {
    const char c = csv[i];
    if (quoted && c == '"' && i + 1 < csv.size() && csv[i + 1] == '"') {
      row.back() += csv[++i];
    } else if (c == '"') {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      row.emplace_back();
    } else if (c == '\n' && !quoted) {
      end_row();
    } else if (c != '\r' || quoted) {
      row.back() += c;
    }
  }
  end_row();
  return rows;
}

double number(const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (end == text.c_str()) throw std::runtime_error("no number: '" + text + "'");
  return value;
}

std::vector<double> numbers(const std::string& text) {
  std::vector<double> out;
  std::istringstream in(text);
  for (std::string word; in >> word;) out.push_back(number(word));
  return out;
}

std::string quoted_where_needed(const std::string& text) {
  if (text.find_first_of(",\"\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + '"';
}

std::size_t column(const std::vector<std::string>& columns, const std::string& name) {
  const auto at = std::find(columns.begin(), columns.end(), name);
  if (at == columns.end()) throw std::runtime_error("the sheet has no column " + name);
  return static_cast<std::size_t>(at - columns.begin());
}

}  // namespace

SheetFile read_sheet(std::string_view csv) {
  SheetFile sheet;
  for (std::vector<std::string>& cells : split_cells(csv)) {
    if (cells.front().starts_with("#")) continue;
    if (sheet.columns.empty()) {
      sheet.columns = std::move(cells);
      continue;
    }
    cells.resize(sheet.columns.size());
    const auto cell = [&](const char* name) { return cells[column(sheet.columns, name)]; };
    SheetRow row;
    row.trace = cell("trace");
    row.kind = cell("kind");
    row.note = cell("note");
    if (const std::string text = cell("ruler_mm"); !text.empty()) row.ruler_mm = number(text);
    for (const double line : numbers(cell("lines"))) {
      row.lines.push_back(static_cast<std::size_t>(line));
    }
    row.at_mm = numbers(cell("at_mm"));
    if (row.at_mm.empty()) row.at_mm.push_back(0);
    if (row.at_mm.size() == 1) row.at_mm.resize(row.lines.size(), row.at_mm.front());
    if (row.at_mm.size() != row.lines.size()) {
      throw std::runtime_error("as many places as lines are needed: " + cell("lines"));
    }
    row.cells = cells;
    sheet.rows.push_back(std::move(row));
  }
  return sheet;
}

std::string write_sheet(const SheetFile& sheet, const std::vector<std::optional<double>>& values) {
  std::string out;
  const auto line = [&](const std::vector<std::string>& cells) {
    for (std::size_t k = 0; k < cells.size(); ++k) {
      out += (k > 0 ? "," : "") + quoted_where_needed(cells[k]);
    }
    out += '\n';
  };
  line(sheet.columns);
  const std::size_t at = column(sheet.columns, "value");
  for (std::size_t i = 0; i < sheet.rows.size(); ++i) {
    std::vector<std::string> cells = sheet.rows[i].cells;
    char text[32] = "";
    if (values[i]) std::snprintf(text, sizeof text, "%.6g", *values[i]);
    cells[at] = text;
    line(cells);
  }
  return out;
}

}  // namespace meltlag_reference
