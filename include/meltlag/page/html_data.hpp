// SPDX-License-Identifier: MIT
// Numbers inside a page: columns of small integers, seven bits a byte, as base64.
#pragma once

#include <array>
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <string>
#include <string_view>

#include "meltlag/page/html.hpp"

namespace meltlag::page {

// Bytes as base64 (RFC 4648), written as they come.
class Base64Writer {
 public:
  explicit Base64Writer(Out const& out) : out_(out) {}
  void byte(std::uint8_t value);
  void finish();  // the last bytes with their padding

 private:
  void flush();
  Out const& out_;
  std::array<std::uint8_t, 3> three_{};
  std::size_t count_ = 0;
  std::string text_;
};

// One column: <script type="text/plain" class="column" id=…>. Each value is stored as its
// difference from the one before, rounded to multiples of `unit`: the error stays below half a unit
// however long the column is.
class ColumnWriter {
 public:
  ColumnWriter(Out const& out, std::string_view id, double unit);
  void add(double value);
  void finish();

 private:
  Out const& out_;
  Base64Writer bytes_;
  double unit_;
  std::int64_t last_ = 0;
};

// Float32 values as one column, NaN where nothing is known: for charts of some thousand points.
void write_floats(Out const& out, std::string_view id, std::span<double const> values);

// Names and words beside the columns: <script type="application/json" id=…>.
void write_json(Out const& out, std::string_view id, nlohmann::json const& value);

}  // namespace meltlag::page
