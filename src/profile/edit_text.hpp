// SPDX-License-Identifier: MIT
// Finding places in a profile's text.
#pragma once

#include <fmt/format.h>
#include <toml++/toml.h>

#include <string>
#include <string_view>
#include <vector>

namespace meltlag::profile {

inline constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
inline constexpr std::string_view blanks = " \t";

inline std::string_view trimmed(std::string_view line) {
  std::size_t const first = line.find_first_not_of(blanks);
  return first == std::string_view::npos ? std::string_view{} : line.substr(first);
}

// Finds bytes by line and column, and lines by number, in a text.
class Text {
 public:
  explicit Text(std::string_view text) : text_(text) {
    starts_.push_back(text.starts_with(byte_order_mark) ? byte_order_mark.size() : 0);
    for (std::size_t i = 0; i < text.size(); ++i)
      if (text[i] == '\n') starts_.push_back(i + 1);
  }

  // Columns count code points.
  std::size_t offset(toml::source_position position) const {
    std::size_t at = starts_[position.line - 1];
    auto const continues = [&](std::size_t i) {
      return i < text_.size() && (static_cast<unsigned char>(text_[i]) & 0xC0U) == 0x80U;
    };
    for (auto column = position.column; column > 1; --column) {
      ++at;
      while (continues(at)) ++at;
    }
    return at;
  }
  std::size_t lines() const { return starts_.size(); }
  std::size_t start_of(std::size_t line) const {
    return line > starts_.size() ? text_.size() : starts_[line - 1];
  }
  std::string_view line(std::size_t number) const {
    return text_.substr(start_of(number), start_of(number + 1) - start_of(number));
  }
  std::string_view line_break() const {
    std::size_t const first = text_.find('\n');
    bool const pair = first != std::string_view::npos && first > 0 && text_[first - 1] == '\r';
    return pair ? "\r\n" : "\n";
  }
  std::string_view between(std::size_t from, std::size_t to) const {
    return text_.substr(from, to - from);
  }
  std::string replaced(std::size_t from, std::size_t to, std::string_view by) const {
    return fmt::format("{}{}{}", text_.substr(0, from), by, text_.substr(to));
  }
  // With a line of its own put after line `number`.
  std::string with_line_after(std::size_t number, std::string_view added) const {
    std::size_t const at = start_of(number + 1);
    bool const broken = at == 0 || text_[at - 1] == '\n' || at == starts_.front();
    return replaced(at, at, fmt::format("{}{}{}", broken ? "" : line_break(), added, line_break()));
  }

 private:
  std::string_view text_;
  std::vector<std::size_t> starts_;
};

// Throws Error with `why` where the text is no valid TOML.
[[nodiscard]] toml::table parse_or_explain(std::string_view text, std::string_view why);

}  // namespace meltlag::profile
