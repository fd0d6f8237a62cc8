// SPDX-License-Identifier: MIT
// The grammar of one line. Spaces and tabs may stand anywhere outside comments, even inside a
// number (Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3, NISTIR 6556,
// 2000, 3.3).
#include "meltlag/gcode/block.hpp"

#include <algorithm>
#include <boost/range/iterator_range.hpp>
#include <boost/spirit/home/x3.hpp>
#include <charconv>
#include <limits>

#include "decimal.hpp"
#include "meltlag/base/text.hpp"

namespace meltlag::gcode {
namespace {

namespace x3 = boost::spirit::x3;

struct BlockTag;

Block& block_of(auto const& context) { return x3::get<BlockTag>(context); }

std::string_view view_of(auto const& range) {
  return {range.begin(), static_cast<std::size_t>(range.end() - range.begin())};
}

// A number too large for its type reads as the largest one.
template <class Number>
Number saturated(std::string_view digits) {
  Number number = 0;
  auto const result = std::from_chars(digits.data(), digits.data() + digits.size(), number);
  return result.ec == std::errc{} ? number : std::numeric_limits<Number>::max();
}

auto const set_delete = [](auto& context) { block_of(context).block_delete = true; };

auto const set_number = [](auto& context) {
  Block& block = block_of(context);
  block.has_number = true;
  block.number = saturated<std::uint64_t>(view_of(x3::_attr(context)));
};

auto const begin_word = [](auto& context) {
  Block& block = block_of(context);
  auto const end = static_cast<std::uint32_t>(x3::_where(context).begin() - block.text.data());
  block.words.push_back({.letter = to_upper(x3::_attr(context)), .begin = end - 1, .end = end});
};

auto const set_value = [](auto& context) {
  Block& block = block_of(context);
  Word& word = block.words.back();
  word.has_value = true;
  word.value = x3::_attr(context);
  word.end = static_cast<std::uint32_t>(x3::_where(context).begin() - block.text.data());
};

// Without an N in front, a star is no checksum.
auto const set_checksum = [](auto& context) {
  Block& block = block_of(context);
  x3::_pass(context) = block.has_number;
  if (!block.has_number) return;
  block.has_checksum = true;
  block.checksum = saturated<std::uint32_t>(view_of(x3::_attr(context)));
};

auto const set_comment = [](auto& context) {
  block_of(context).comment = view_of(x3::_attr(context));
};

auto const blanks = x3::omit[*x3::ascii::blank];
auto const digits = x3::raw[+x3::ascii::digit];
auto const deleted = x3::lit('/')[set_delete] >> blanks;                              // /
auto const number = x3::omit[x3::char_("nN")] >> blanks >> digits[set_number];        // N12
auto const word = x3::ascii::alpha[begin_word] >> -(blanks >> Decimal{})[set_value];  // X-.5
auto const remark = '(' >> x3::omit[*~x3::char_("()")] >> ')';  // (outer wall)
auto const checksum = ('*' >> blanks >> digits)[set_checksum];  // *57
auto const comment = x3::raw[';' >> *x3::char_][set_comment];   // ; outer wall
auto const percent = '%' >> blanks >> x3::eoi;                  // %
auto const line = blanks >> -deleted >> -(number >> blanks) >>
                  (percent | *((word | remark) >> blanks) >> -(checksum >> blanks) >> -comment);

// Where the line's own text starts: senders put nothing before the N, indented files do.
std::size_t text_start(std::string_view text) {
  return std::min(text.find_first_not_of(" \t"), text.size());
}

std::uint8_t checksum_until(std::string_view text, std::size_t star) {
  auto const start = std::min(text_start(text), star);
  return line_checksum(text.substr(start, star - start));
}

// A text after N… (M117 …*12, or ; …*12) hides the checksum at the end of the line from the
// grammar. Returns the place of its star, or npos. After a ';' it counts only when it is right.
std::size_t hidden_checksum(Block const& block) {
  std::string_view const text = block.text;
  auto const last_digit = text.find_last_not_of(" \t");
  if (last_digit == std::string_view::npos || !is_digit(text[last_digit])) return text.npos;
  auto const star = text.find_last_not_of("0123456789", last_digit);
  if (star == text.npos || text[star] != '*') return text.npos;
  auto const sum = saturated<std::uint32_t>(text.substr(star + 1, last_digit - star));
  if (!block.comment.empty() && sum != checksum_until(text, star)) return text.npos;
  return star;
}

// Reads the checksum at `star` and cuts it off the comment that hid it.
void take_hidden_checksum(Block& block, std::size_t star) {
  std::string_view const text = block.text;
  block.has_checksum = true;
  block.checksum = saturated<std::uint32_t>(trim(text.substr(star + 1)));
  if (!block.comment.empty()) {
    auto const start = static_cast<std::size_t>(block.comment.data() - text.data());
    block.comment = text.substr(start, star - start);
  }
  if (block.bad_column > star) block.bad_column = 0;
}

void verify_checksum(Block& block) {
  std::size_t star = std::string_view::npos;
  if (block.has_checksum) {
    star = block.text.find_last_of('*', block.text.size() - block.comment.size());
  } else {
    star = hidden_checksum(block);
    if (star == std::string_view::npos) return;
    take_hidden_checksum(block, star);
  }
  block.checksum_ok = block.checksum == checksum_until(block.text, star);
}

}  // namespace

void read_block(std::string_view text, Block& block) {
  block.text = text;
  block.block_delete = block.has_number = block.has_checksum = false;
  block.number = 0;
  block.checksum = 0;
  block.checksum_ok = true;
  block.words.clear();
  block.comment = {};
  char const* first = text.data();
  char const* const last = first + text.size();
  x3::parse(first, last, x3::with<BlockTag>(block)[line]);
  block.bad_column = first == last ? 0 : static_cast<std::size_t>(first - text.data()) + 1;
  if (block.has_number) verify_checksum(block);
}

std::string_view without_number(Block const& block) {
  std::string_view rest = block.text;
  if (!block.has_number) return rest;
  auto const skip = [&](auto const& belongs) {
    auto const end = std::ranges::find_if_not(rest, belongs);
    rest.remove_prefix(static_cast<std::size_t>(end - rest.begin()));
  };
  rest.remove_prefix(rest.find_first_of("Nn") + 1);
  skip(is_blank);
  skip(is_digit);  // its own alone: in "N1 2G1" the 2 is what makes the line unreadable
  skip(is_blank);
  return rest;
}

std::uint8_t line_checksum(std::string_view text) {
  std::uint8_t sum = 0;
  for (char const c : text) sum = static_cast<std::uint8_t>(sum ^ static_cast<std::uint8_t>(c));
  return sum;
}

}  // namespace meltlag::gcode
