// SPDX-License-Identifier: MIT
#include "meltlag/page/html_data.hpp"

#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <nlohmann/json.hpp>

namespace meltlag::page {
namespace {

constexpr std::string_view digits =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
constexpr std::size_t piece = 1 << 14;

void begin(Out const& out, std::string_view id, double unit) {
  out(fmt::format("<script type=\"text/plain\" class=\"column\" id=\"{}\" data-unit=\"{}\">",
                  escape_html(id),
                  unit));
}

}  // namespace

void Base64Writer::byte(std::uint8_t value) {
  three_[count_++] = value;
  if (count_ == 3) flush();
}

// One to three bytes become four characters.
void Base64Writer::flush() {
  for (std::size_t i = count_; i < 3; ++i) three_[i] = 0;
  unsigned const bits = static_cast<unsigned>(three_[0] << 16 | three_[1] << 8 | three_[2]);
  for (std::size_t i = 0; i < 4; ++i) {
    text_ += i <= count_ ? digits[bits >> (18 - 6 * i) & 63] : '=';
  }
  count_ = 0;
  if (text_.size() < piece) return;
  out_(text_);
  text_.clear();
}

void Base64Writer::finish() {
  if (count_ > 0) flush();
  out_(text_);
  text_.clear();
}

ColumnWriter::ColumnWriter(Out const& out, std::string_view id, double unit)
    : out_(out), bytes_(out), unit_(unit) {
  begin(out, id, unit);
}

void ColumnWriter::add(double value) {
  std::int64_t const now = std::llround(value / unit_);
  std::int64_t const step = now - last_;
  last_ = now;
  // Small steps of either sign become small numbers.
  auto rest = static_cast<std::uint64_t>(step) << 1 ^ static_cast<std::uint64_t>(step >> 63);
  for (; rest >= 128; rest >>= 7) bytes_.byte(static_cast<std::uint8_t>(rest | 128));
  bytes_.byte(static_cast<std::uint8_t>(rest));
}

void ColumnWriter::finish() {
  bytes_.finish();
  out_("</script>\n");
}

void write_floats(Out const& out, std::string_view id, std::span<double const> values) {
  begin(out, id, 0);
  Base64Writer bytes(out);
  for (double const value : values) {
    auto const bits = std::bit_cast<std::uint32_t>(static_cast<float>(value));
    for (int shift = 0; shift < 32; shift += 8)
      bytes.byte(static_cast<std::uint8_t>(bits >> shift));
  }
  bytes.finish();
  out("</script>\n");
}

void write_json(Out const& out, std::string_view id, nlohmann::json const& value) {
  out(fmt::format("<script type=\"application/json\" id=\"{}\">", escape_html(id)));
  // No "</script" can be in it.
  std::string text;
  for (char const c : value.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace))
    c == '<' ? text += "\\u003c" : text += c;
  out(text);
  out("</script>\n");
}

}  // namespace meltlag::page
