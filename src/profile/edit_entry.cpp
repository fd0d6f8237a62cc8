// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cassert>

#include "edit_text.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/profile/edit.hpp"

namespace meltlag::profile {
namespace {

std::string inline_table(std::vector<Field> const& fields) {
  std::string text = "{ ";
  for (Field const& field : fields)
    text += fmt::format("{}{} = {}", &field == &fields.front() ? "" : ", ", field.key, field.value);
  return text + " }";
}

std::string headed_table(Text const& text,
                         std::string_view section,
                         std::string_view key,
                         std::vector<Field> const& fields) {
  std::string lines = fmt::format("{0}[[{1}.{2}]]", text.line_break(), section, key);
  for (Field const& field : fields)
    lines += fmt::format("{}{} = {}", text.line_break(), field.key, field.value);
  return lines;
}

// The entry whose first field is that of `fields`; nullptr where there is none.
toml::table const* namesake(toml::array const& array, Field const& first) {
  toml::table const wanted =
      parse_or_explain(fmt::format("v = {}", first.value), "the entry's name is no value");
  auto const name = wanted["v"].value<std::string>();
  for (auto&& node : array) {
    toml::table const* const table = node.as_table();
    if (table && name && (*table)[first.key].value<std::string>() == name) return table;
  }
  return nullptr;
}

// A line of its own below that of the last entry, with a comma after that one.
std::string insert_line(Text const& text, toml::node const& last, std::string_view entry) {
  std::size_t const line = last.source().end.line;
  std::size_t const end = text.offset(last.source().end);
  std::size_t const line_end = text.start_of(line + 1);
  std::string_view const first_line = text.line(last.source().begin.line);
  std::string_view const indent = first_line.substr(0, first_line.find_first_not_of(blanks));
  bool const comma = trimmed(text.line(line).substr(end - text.start_of(line))).starts_with(',');
  std::string added = fmt::format("{}{}{}{}", indent, entry, comma ? "," : "", text.line_break());
  if (comma) return text.replaced(line_end, line_end, added);
  return text.replaced(end, line_end, fmt::format(",{}{}", text.between(end, line_end), added));
}

std::string appended(Text const& text, toml::array const& array, std::string_view entry) {
  toml::node const& last = *array.get(array.size() - 1);
  auto const& end = array.source().end;
  if (end.line != last.source().end.line) return insert_line(text, last, entry);
  std::size_t const at = text.offset(last.source().end);
  return text.replaced(at, at, fmt::format(", {}", entry));
}

std::string edited(Text const& text,
                   toml::array const& array,
                   std::string_view section,
                   std::string_view key,
                   std::vector<Field> const& fields) {
  toml::table const* const first = array.get(0)->as_table();
  toml::table const* const same = namesake(array, fields.front());
  if (first && !first->is_inline()) {
    if (same)
      throw Error(fmt::format("{} is there already", fields.front().value),
                  {.file = "profile", .line = same->source().begin.line},
                  "take another name, or change it by hand");
    return text.with_line_after(text.lines(), headed_table(text, section, key, fields));
  }
  if (!same) return appended(text, array, inline_table(fields));
  return text.replaced(
      text.offset(same->source().begin), text.offset(same->source().end), inline_table(fields));
}

}  // namespace

std::string with_entry(std::string_view toml_text,
                       std::string_view section,
                       std::string_view key,
                       std::vector<Field> const& fields) {
  assert(!fields.empty() && !section.empty());
  toml::table const before = parse_or_explain(toml_text, "this is not valid TOML");
  toml::array const* const array = before[section][key].as_array();
  if (!array || array->empty())
    return with_value(toml_text, section, key, fmt::format("[{}]", inline_table(fields)));
  std::string changed = edited(Text(toml_text), *array, section, key, fields);
  std::string const why = fmt::format("{} cannot be put into {}", fields.front().value, key);
  toml::table const after = parse_or_explain(changed, why);
  toml::array const* const now = after[section][key].as_array();
  bool const added = !namesake(*array, fields.front());
  if (!now || now->size() != array->size() + (added ? 1 : 0) || !namesake(*now, fields.front()))
    throw Error(fmt::format("{}: the lines that hold it were not understood", why),
                {.file = "profile"},
                "change it by hand");
  return changed;
}

}  // namespace meltlag::profile
