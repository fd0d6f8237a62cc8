// SPDX-License-Identifier: MIT
#include "meltlag/report/table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace meltlag::report {
namespace {

void append_cell(std::string& out, std::string_view text, Column const& column) {
  std::size_t const shown = shown_width(text);
  std::size_t const fill = column.width > shown ? column.width - shown : 0;
  if (column.align == Align::right) out.append(fill, ' ');
  out += text;
  if (column.align == Align::left) out.append(fill, ' ');
}

void end_line(std::string& out) {
  while (!out.empty() && out.back() == ' ') out.pop_back();
  out += '\n';
}

// Broken at blanks to lines of at most 80 columns.
std::string broken(std::string_view text, std::string_view first, std::string_view further) {
  constexpr std::size_t columns = 80;
  std::string out, line(first);
  bool begins = true;
  while (!text.empty()) {
    std::size_t const end = std::min(text.find(' '), text.size());
    std::string_view const word = text.substr(0, end);
    if (!begins && shown_width(line) + 1 + shown_width(word) > columns) {
      out += line + '\n';
      line = further;
      begins = true;
    }
    if (!begins) line += ' ';
    line += word;
    begins = false;
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return out + line + '\n';
}

// The decimal place of the last of so many figures; negative: tens, hundreds.
int place_of(double x, int figures) {
  if (x == 0 || !std::isfinite(x)) return 0;
  return figures - 1 - static_cast<int>(std::floor(std::log10(std::abs(x))));
}

std::string to_place(double x, int place) {
  if (place >= 0) return fixed(x, place);
  double const unit = std::pow(10.0, -place);
  return fixed(std::round(x / unit) * unit, 0);
}

}  // namespace

std::size_t shown_width(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  }));
}

std::string Table::header() const {
  std::string names, units;
  for (Column const& column : columns_) {
    if (&column != &columns_.front()) {
      names += ' ';
      units += ' ';
    }
    append_cell(names, column.name, column);
    append_cell(units, column.unit, column);
  }
  end_line(names);
  end_line(units);
  return names + units;
}

void Table::append_row(std::string& out, std::vector<std::string> const& cells) const {
  for (std::size_t i = 0; i < columns_.size(); ++i) {
    if (i > 0) out += ' ';
    append_cell(out, i < cells.size() ? std::string_view(cells[i]) : "", columns_[i]);
  }
  end_line(out);
}

std::string fixed(double value, int decimals) {
  if (std::isnan(value)) return "–";
  std::string text = fmt::format("{:.{}f}", value, decimals);
  if (text.find_first_not_of("-0.") == std::string::npos && text[0] == '-') text.erase(0, 1);
  return text;
}

std::string number(double value, int decimals) {
  std::string text = fixed(value, decimals);
  if (text.find('.') == std::string::npos) return text;
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text;
}

std::string plus_minus(double value, double sd) {
  if (!(sd > 0)) return to_place(value, std::max(0, place_of(value, 3)));
  int const place = place_of(sd, 2);
  return fmt::format("{} ± {}", to_place(value, place), to_place(sd, place));
}

std::string range(double low, double high, double sd) {
  int const place = sd > 0 ? place_of(sd, 2) : std::max(0, place_of(high, 3));
  return fmt::format("{} to {}", to_place(low, place), to_place(high, place));
}

std::string percent(double share) { return fmt::format("{:.1f} %", 100 * share); }

std::string duration(double seconds) {
  if (seconds < 59.95) return fmt::format("{:.1f} s", seconds);
  auto const whole = static_cast<long long>(std::llround(seconds));
  if (whole < 3600) return fmt::format("{} min {:02} s", whole / 60, whole % 60);
  return fmt::format("{} h {:02} min", whole / 3600, whole % 3600 / 60);
}

std::string cut_to(std::string_view text, std::size_t width) {
  if (shown_width(text) <= width) return std::string(text);
  std::string out;
  std::size_t shown = 0;
  for (char const c : text) {
    bool const begins = (static_cast<unsigned char>(c) & 0xC0) != 0x80;
    if (begins && ++shown == width) break;
    out += c;
  }
  return out + "…";
}

std::string cut_keeping_end(std::string_view text, std::size_t width, std::size_t kept_words) {
  if (shown_width(text) <= width) return std::string(text);
  std::size_t from = text.size();
  for (std::size_t word = 0; word < kept_words && from != std::string_view::npos && from > 0;
       ++word)
    from = text.rfind(' ', from - 1);
  if (from == std::string_view::npos || from == 0) return cut_to(text, width);
  std::string_view const end = text.substr(from);
  if (shown_width(end) + 2 > width) return cut_to(text, width);
  std::string head = cut_to(text.substr(0, from), width - shown_width(end));
  return head + std::string(end);
}

std::vector<std::string> cut_apart(std::vector<std::string> const& names, std::size_t width) {
  bool const fit = std::ranges::all_of(
      names, [&](std::string const& name) { return shown_width(name) <= width; });
  if (fit || names.size() < 2) {
    std::vector<std::string> out;
    for (std::string const& name : names) out.push_back(cut_to(name, width));
    return out;
  }
  std::size_t common = names.front().size();
  for (std::string const& name : names) {
    auto const [mine, first] = std::ranges::mismatch(name, names.front());
    common = std::min(common, static_cast<std::size_t>(mine - name.begin()));
  }
  // Whole words only.
  std::size_t const space = common == 0 ? std::string::npos : names.front().rfind(' ', common - 1);
  std::size_t const left_out = space == std::string::npos ? 0 : space + 1;
  std::vector<std::string> out;
  for (std::string const& name : names)
    out.push_back(cut_to(left_out > 0 ? "…" + name.substr(left_out) : name, width));
  return out;
}

std::string list_item(std::string_view text) { return broken(text, "- ", "  "); }
std::string item_list(Sentences const& sentences) {
  std::string out;
  for (std::string const& sentence : sentences) out += list_item(sentence);
  return out;
}
std::string paragraph(std::string_view text) { return broken(text, "", ""); }

std::string csv_field(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string out = "\"";
  for (char const c : text) {
    if (c == '"') out += '"';
    out += c;
  }
  return out + '"';
}

}  // namespace meltlag::report
