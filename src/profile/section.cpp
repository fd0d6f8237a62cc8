// SPDX-License-Identifier: MIT
#include "section.hpp"

#include <fmt/format.h>

#include <cassert>
#include <cmath>
#include <sstream>

#include "document.hpp"
#include "schema.hpp"
#include "sense.hpp"

namespace meltlag::profile {
namespace {

std::string kind_of(toml::node const& node) {
  if (auto const text = node.value_exact<std::string>())
    return fmt::format("the text \"{}\"", *text);
  if (auto const flag = node.value_exact<bool>()) return *flag ? "`true`" : "`false`";
  if (node.is_number()) return "a number";
  if (node.is_array()) return "a list";
  if (node.is_table()) return "a table";
  return "a date or time";
}

std::string requirement_broken(double value, Rule rule) {
  if (!std::isfinite(value)) return "a finite number is needed";
  if (rule == Rule::positive && !(value > 0)) return "it must be greater than 0";
  if (rule == Rule::not_negative && !(value >= 0)) return "it must not be negative";
  if (rule == Rule::up_to_one && !(value >= 0 && value <= 1)) return "it must lie between 0 and 1";
  return {};
}

// A number, or nothing where the node is none. Integers are numbers.
std::optional<double> as_number(toml::node const& node) {
  if (!node.is_number()) return std::nullopt;
  return node.value<double>();
}

}  // namespace

Section::Section(toml::table const* table,
                 std::string path,
                 std::string schema,
                 Place outside,
                 Deviations* deviations)
    : table_(table),
      path_(std::move(path)),
      schema_(std::move(schema)),
      outside_(std::move(outside)),
      deviations_(deviations) {}

toml::node const* Section::find(std::string_view key) const {
  return table_ ? table_->get(key) : nullptr;
}

bool Section::has(std::string_view key) const { return find(key) != nullptr; }

Place Section::place() const {
  Place const inside = table_ ? place_of(table_->source()) : Place{};
  return inside.line > 0 ? inside : outside_;
}

Place Section::place(std::string_view key) const {
  toml::node const* node = find(key);
  return node ? place_of(node->source()) : place();
}

std::string Section::shown(std::string_view key) const {
  return path_.empty() ? std::string{key} : fmt::format("[{}] {}", path_, key);
}

std::string Section::hint(std::string_view key) const {
  KnownKey const* known = find_key(schema_, key);
  if (!known) return {};
  return fmt::format("{}: {}; for example: {} = {}", key, known->meaning, key, known->example);
}

void Section::throw_wrong_type(std::string_view key, std::string_view expected) const {
  throw Error(fmt::format("{} is {}: expected {}", shown(key), kind_of(*find(key)), expected),
              place(key),
              hint(key));
}

void Section::throw_missing(std::string_view key) const {
  std::string const under = path_.empty()      ? std::string{}
                            : path_ == schema_ ? fmt::format(" under [{}]", schema_)
                                               : std::string{" inside its braces"};
  KnownKey const* known = find_key(schema_, key);
  assert(known);
  throw Error(
      fmt::format("{} is missing", shown(key)),
      place(),
      fmt::format(
          "type `{} = {}`{} with your own value: {}", key, known->example, under, known->meaning));
}

std::optional<double> Section::number(std::string_view key, Rule rule) const {
  assert(find_key(schema_, key));
  toml::node const* node = find(key);
  if (!node) {
    if (has(std::string{key} + "_sd"))
      throw Error(fmt::format("{}_sd stands without {}", shown(key), key),
                  place(std::string{key} + "_sd"),
                  hint(key));
    return std::nullopt;
  }
  std::optional<double> const value = as_number(*node);
  if (!value) throw_wrong_type(key, "a number");
  if (std::string const broken = requirement_broken(*value, rule); !broken.empty())
    throw Error(fmt::format("{} is {}: {}", shown(key), *value, broken), place(key), hint(key));
  // An axis is judged by the key that holds all of them: "machine.max_speed_mm_s".
  std::size_t const dot = schema_ == "machine.axes" ? path_.rfind('.') : std::string::npos;
  std::string const slip = dot == std::string::npos
                               ? makes_no_sense(schema_, key, *value)
                               : makes_no_sense("machine", path_.substr(dot + 1), *value);
  if (!slip.empty())
    throw Error(fmt::format("{} is {}: {}", shown(key), *value, slip), place(key), hint(key));
  read_deviation(key, *value);
  read_range(key, *value);
  return value;
}

// A standard deviation is kept under the key's own name: "lag.run_on_mm3".
void Section::read_deviation(std::string_view key, double) const {
  std::string const name = std::string{key} + "_sd";
  toml::node const* node = find(name);
  if (!node) return;
  std::optional<double> const sd = as_number(*node);
  if (!sd) throw_wrong_type(name, "a number");
  if (!std::isfinite(*sd) || *sd < 0)
    throw Error(fmt::format("{} is {}: a standard deviation is 0 or more", shown(name), *sd),
                place(name),
                fmt::format("take the line out if the uncertainty of {} is not known", key));
  (*deviations_)[fmt::format("{}.{}", path_, key)] = *sd;
}

// A published range, taken as equally likely throughout, has the deviation (high − low)/√12.
void Section::read_range(std::string_view key, double value) const {
  std::string const low_name = std::string{key} + "_low", high_name = std::string{key} + "_high";
  if (!has(low_name) && !has(high_name)) return;
  for (std::string const& name : {low_name, high_name}) {
    if (!has(name))
      throw Error(fmt::format("{} is missing: a range has both ends", shown(name)),
                  place(name == low_name ? high_name : low_name),
                  fmt::format("type both {} and {}", low_name, high_name));
    if (!as_number(*find(name))) throw_wrong_type(name, "a number");
  }
  double const low = *as_number(*find(low_name)), high = *as_number(*find(high_name));
  if (!(low <= value && value <= high && std::isfinite(high - low)))
    throw Error(fmt::format("{} is {}, outside its range {} … {}", shown(key), value, low, high),
                place(key),
                "correct the value or the range");
  deviations_->try_emplace(fmt::format("{}.{}", path_, key), (high - low) / std::sqrt(12.0));
}

std::optional<std::string> Section::text(std::string_view key) const {
  toml::node const* node = find(key);
  if (!node) return std::nullopt;
  std::optional<std::string> value = node->value_exact<std::string>();
  if (!value) throw_wrong_type(key, "a text in quotes");
  return value;
}

std::optional<bool> Section::flag(std::string_view key) const {
  toml::node const* node = find(key);
  if (!node) return std::nullopt;
  std::optional<bool> const value = node->value_exact<bool>();
  if (!value) throw_wrong_type(key, "true or false");
  return value;
}

SomeAxes Section::axes(std::string_view key) const {
  toml::node const* node = find(key);
  if (!node) return {};
  if (!node->is_table()) throw_wrong_type(key, "a value for each axis");
  Section const inside(
      node->as_table(), fmt::format("{}.{}", path_, key), "machine.axes", place(key), deviations_);
  SomeAxes values;
  std::size_t axis = 0;
  for (std::string_view const name : {"x", "y", "z", "e"})
    values[axis++] = inside.number(name, Rule::positive);
  return values;
}

std::optional<std::vector<Section>> Section::entries(std::string_view key) const {
  auto const below = [key](std::string const& section) {
    return section.empty() ? std::string{key} : fmt::format("{}.{}", section, key);
  };
  toml::node const* node = find(key);
  if (!node) return std::nullopt;
  toml::array const* array = node->as_array();
  if (!array) throw_wrong_type(key, "a list of tables");
  if (array->empty())
    throw Error(fmt::format("{} is an empty list", shown(key)), place(key), hint(key));
  std::vector<Section> tables;
  for (toml::node const& entry : *array) {
    std::string const path = fmt::format("{}[{}]", below(path_), tables.size());
    if (!entry.is_table())
      throw Error(fmt::format("[{}] is {}: expected a table in braces", path, kind_of(entry)),
                  place_of(entry.source()),
                  hint(key));
    tables.emplace_back(
        entry.as_table(), path, below(schema_), place_of(entry.source()), deviations_);
  }
  return tables;
}

std::optional<std::string> Section::file(std::string_view key) const {
  std::optional<std::string> const written = text(key);
  if (!written) return std::nullopt;
  if (written->empty())
    throw Error(fmt::format("{} names no file", shown(key)), place(key), hint(key));
  return relative_to(find(key)->source(), *written);
}

double Section::need(std::string_view key, Rule rule) const {
  std::optional<double> const value = number(key, rule);
  if (!value) throw_missing(key);
  return *value;
}

}  // namespace meltlag::profile
