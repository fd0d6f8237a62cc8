// SPDX-License-Identifier: MIT
// One table of a profile, read key by key. Every complaint names file, line and column and what to
// type.
#pragma once

#include <toml++/toml.h>

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/profile/settings_report.hpp"

namespace meltlag::profile {

using Deviations = std::map<std::string, double, std::less<>>;

// What a number must be, besides finite.
enum class Rule { any, not_negative, positive, up_to_one };

class Section {
 public:
  // `table` may be null: the section is not there. `path` is what messages and `_sd` entries call
  // it
  // ("lag", "barrel.sections[0]"), `schema` the section of the schema. REQUIRES: table, deviations
  // outlive this.
  Section(toml::table const* table,
          std::string path,
          std::string schema,
          Place outside,
          Deviations* deviations);

  [[nodiscard]] bool present() const { return table_ != nullptr; }
  // Absent, or without any key: nothing is said yet.
  [[nodiscard]] bool empty() const { return table_ == nullptr || table_->empty(); }
  [[nodiscard]] bool has(std::string_view key) const;
  [[nodiscard]] Place place() const;  // of the section, or of the file
  [[nodiscard]] Place place(std::string_view key) const;

  // Nothing where the key is absent; Error where it is not what it must be.
  [[nodiscard]] std::optional<double> number(std::string_view key, Rule rule) const;
  [[nodiscard]] std::optional<std::string> text(std::string_view key) const;
  [[nodiscard]] std::optional<bool> flag(std::string_view key) const;
  [[nodiscard]] SomeAxes axes(std::string_view key) const;  // axes not given stay empty
  // An array of tables as sections of their own, each with at least one entry.
  [[nodiscard]] std::optional<std::vector<Section>> entries(std::string_view key) const;
  // The file named by a text key, relative to the file in which the key stands.
  [[nodiscard]] std::optional<std::string> file(std::string_view key) const;

  // Error where the key is absent.
  [[nodiscard]] double need(std::string_view key, Rule rule) const;
  [[noreturn]] void throw_missing(std::string_view key) const;
  // "[lag] run_on_mm3", as messages say it.
  [[nodiscard]] std::string shown(std::string_view key) const;
  [[nodiscard]] std::string hint(std::string_view key) const;

 private:
  [[nodiscard]] toml::node const* find(std::string_view key) const;
  void read_deviation(std::string_view key, double value) const;
  void read_range(std::string_view key, double value) const;
  [[noreturn]] void throw_wrong_type(std::string_view key, std::string_view expected) const;

  toml::table const* table_;
  std::string path_;
  std::string schema_;
  Place outside_;
  Deviations* deviations_;
};

}  // namespace meltlag::profile
