// SPDX-License-Identifier: MIT
#include "meltlag/profile/edit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <charconv>
#include <cmath>

#include "edit_text.hpp"
#include "meltlag/base/error.hpp"

namespace meltlag::profile {
namespace {

bool stands_alone(toml::node const& node) {  // under headers of its own
  if (auto const* table = node.as_table()) return !table->is_inline();
  auto const* array = node.as_array();
  if (!array || array->empty()) return false;
  auto const* first = array->get(0)->as_table();
  return first && !first->is_inline();
}

// The last line that a key of this very table takes; 0 where it has none.
std::size_t last_line(toml::table const& table) {
  std::size_t last = 0;
  for (auto&& [key, node] : table)
    if (!stands_alone(node)) last = std::max(last, std::size_t{node.source().end.line});
  return last;
}

// The line of "# key = …" between line `from` and the next header; 0 where there is none.
std::size_t commented_line(Text const& text, std::size_t from, std::string_view key) {
  for (std::size_t number = from; number <= text.lines(); ++number) {
    std::string_view line = trimmed(text.line(number));
    if (line.starts_with('[')) return 0;
    if (!line.starts_with('#')) continue;
    line.remove_prefix(std::min(line.find_first_not_of("# \t"), line.size()));
    if (!line.starts_with(key)) continue;
    if (trimmed(line.substr(key.size())).starts_with('=')) return number;
  }
  return 0;
}

std::string insert_inline(Text const& text, toml::table const& table, std::string_view entry) {
  std::size_t const brace = text.offset(table.source().end) - 1;
  std::string const added = table.empty() ? fmt::format(" {} ", entry) : fmt::format(", {}", entry);
  if (table.empty()) return text.replaced(brace, brace, added);
  std::size_t last = 0;
  for (auto&& [key, node] : table) last = std::max(last, text.offset(node.source().end));
  return text.replaced(last, last, added);
}

std::string insert_top(Text const& text,
                       toml::table const& root,
                       std::string_view key,
                       std::string_view entry) {
  std::size_t const commented = commented_line(text, 1, key);
  return text.with_line_after(commented > 0 ? commented : last_line(root), entry);
}

std::string insert_in(Text const& text,
                      toml::table const& table,
                      std::string_view section,
                      std::string_view key,
                      std::string_view entry) {
  if (table.is_inline()) return insert_inline(text, table, entry);
  std::size_t const header = table.source().begin.line;
  bool const has_header = trimmed(text.line(header)).starts_with(fmt::format("[{}]", section));
  std::size_t const last = last_line(table);
  if (has_header) {
    std::size_t const commented = commented_line(text, header + 1, key);
    return text.with_line_after(commented > 0 ? commented : std::max(header, last), entry);
  }
  if (last > 0) return text.with_line_after(last, fmt::format("{}.{}", section, entry));
  return text.with_line_after(text.lines(),
                              fmt::format("[{}]{}{}", section, text.line_break(), entry));
}

toml::node const* find(toml::table const& root, std::string_view section, std::string_view key) {
  if (section.empty()) return root.get(key);
  toml::node const* node = root.get(section);
  return node && node->is_table() ? node->as_table()->get(key) : nullptr;
}

std::string edited(Text const& text,
                   toml::table const& root,
                   std::string_view section,
                   std::string_view key,
                   std::string_view value) {
  std::string const entry = fmt::format("{} = {}", key, value);
  if (toml::node const* node = find(root, section, key); node && !stands_alone(*node))
    return text.replaced(text.offset(node->source().begin), text.offset(node->source().end), value);
  if (section.empty()) return insert_top(text, root, key, entry);
  if (toml::node const* node = root.get(section); node && node->is_table())
    return insert_in(text, *node->as_table(), section, key, entry);
  std::string_view const line_break = text.line_break();
  bool const empty = text.start_of(text.lines() + 1) == text.start_of(1);
  return text.with_line_after(
      text.lines(), fmt::format("{}[{}]{}{}", empty ? "" : line_break, section, line_break, entry));
}

}  // namespace

toml::table parse_or_explain(std::string_view text, std::string_view why) {
  try {
    return toml::parse(text, std::string_view{});
  } catch (toml::parse_error const& error) {
    auto const& begin = error.source().begin;
    throw Error(fmt::format("{}: {}", why, error.description()),
                {.file = "profile", .line = begin.line, .column = begin.column},
                "correct the profile by hand");
  }
}

std::string with_value(std::string_view toml_text,
                       std::string_view section,
                       std::string_view key,
                       std::string_view value) {
  toml::table const before = parse_or_explain(toml_text, "this is not valid TOML");
  std::string changed = edited(Text(toml_text), before, section, key, value);
  std::string const why = fmt::format("{} cannot be set to {}", key, value);
  toml::table const after = parse_or_explain(changed, why);
  toml::table const wanted = parse_or_explain(fmt::format("v = {}", value), why);
  toml::node const* now = find(after, section, key);
  bool same = false;
  if (now && wanted.size() == 1)
    same = now->visit([&](auto const& node) {
      using Node = std::remove_cvref_t<decltype(node)>;
      auto const* other = wanted.get("v")->as<toml::inserted_type_of<Node>>();
      return other && node == *other;
    });
  if (!same)
    throw Error(fmt::format("{}: the line that holds it was not understood", why),
                {.file = "profile"},
                "change it by hand");
  return changed;
}

std::string toml_number(double value) {
  assert(std::isfinite(value));
  std::string text = fmt::format("{}", value);
  if (text.find_first_of(".e") == std::string::npos) text += ".0";
  return text;
}

std::string toml_number(double value, int significant_digits) {
  assert(significant_digits >= 1);
  std::string const rounded = fmt::format("{:.{}e}", value, significant_digits - 1);
  double back = 0;
  std::from_chars(rounded.data(), rounded.data() + rounded.size(), back);
  return toml_number(back);
}

std::string toml_quoted(std::string_view text) {
  std::string quoted = "\"";
  for (char const c : text) {
    auto const code = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      quoted += fmt::format("\\{}", c);
    else if (code < 0x20 || code == 0x7F)
      quoted += fmt::format("\\u{:04X}", code);
    else
      quoted += c;
  }
  return quoted + '"';
}

}  // namespace meltlag::profile
