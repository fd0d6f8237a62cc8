// SPDX-License-Identifier: MIT
// A decimal number as G-code writes it: +5, .5, 5., "0. 12 34"; no exponent, no inf, no nan.
// x3::double_ would take the E word of "X10E5" for an exponent.
#pragma once

#include <array>
#include <boost/spirit/home/x3.hpp>
#include <charconv>
#include <limits>
#include <system_error>

#include "meltlag/base/text.hpp"

namespace meltlag::gcode {

// REQUIRES: [first, last) starts with digits and at most one point, at least one digit among them.
// Returns the end of the number. A number too large for a double reads as infinity.
inline char const* read_plain_decimal(char const* first, char const* last, double& value) {
  auto const [end, error] = std::from_chars(first, last, value, std::chars_format::fixed);
  if (error == std::errc::result_out_of_range) {  // from_chars does not say in which direction
    char const* digit = first;
    while (digit != end && *digit == '0') ++digit;
    bool const large = digit != end && *digit != '.';
    value = large ? std::numeric_limits<double>::infinity() : 0;
  }
  return end;
}

// Parses a Decimal; its attribute is a double.
struct Decimal : boost::spirit::x3::parser<Decimal> {
  using attribute_type = double;
  static bool const has_attribute = true;

  template <class Context, class RuleContext, class Attribute>
  bool parse(char const*& first,
             char const* const& last,
             Context const&,
             RuleContext&,
             Attribute& attribute) const {
    char const* p = first;
    bool const negative = p != last && *p == '-';
    if (negative || (p != last && *p == '+')) p = skip_blanks(p + 1, last);
    if (p == last || !(is_digit(*p) || *p == '.')) return false;
    double value = 0;
    char const* end = p;
    if (is_digit(*p) || (p + 1 != last && is_digit(p[1]))) end = read_plain_decimal(p, last, value);
    if (end == p || goes_on(end, last)) {
      end = read_spaced(p, last, value);
      if (end == p) return false;
    }
    boost::spirit::x3::traits::move_to(negative ? -value : value, attribute);
    first = end;
    return true;
  }

 private:
  static char const* skip_blanks(char const* p, char const* last) {
    while (p != last && is_blank(*p)) ++p;
    return p;
  }

  // True when after blanks stands what may belong to the number that ended at `end`.
  static bool goes_on(char const* end, char const* last) {
    if (end == last || !is_blank(*end)) return false;
    char const* const next = skip_blanks(end, last);
    return next != last && (is_digit(*next) || *next == '.');
  }

  // A number with blanks inside; returns `first` when there is no digit or there are too many.
  static char const* read_spaced(char const* first, char const* last, double& value) {
    std::array<char, 400> digits;
    std::size_t count = 0;
    bool point = false, any_digit = false;
    char const* end = first;
    for (char const* p = first; p != last; p = skip_blanks(p, last)) {
      if (*p == '.' ? point : !is_digit(*p)) break;
      if (count == digits.size()) return first;
      (*p == '.' ? point : any_digit) = true;
      digits[count++] = *p++;
      end = p;
    }
    if (!any_digit) return first;
    read_plain_decimal(digits.data(), digits.data() + count, value);
    return end;
  }
};

}  // namespace meltlag::gcode
