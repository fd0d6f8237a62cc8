// SPDX-License-Identifier: MIT
#include "sheet_number.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "meltlag/base/text.hpp"

namespace meltlag {
namespace {

// Typographic minus signs and dashes become '-'.
std::string plain_signs(std::string_view text) {
  std::string plain{text};
  for (std::string_view const sign : {"\xE2\x88\x92", "\xE2\x80\x93", "\xE2\x80\x92"})
    for (std::size_t at = 0; (at = plain.find(sign, at)) != std::string::npos;)
      plain.replace(at, sign.size(), "-");
  return plain;
}

bool is_mark(char c) { return c == '.' || c == ',' || c == '\''; }

// How many characters of `text` are a number: sign, digits and marks, exponent.
std::size_t number_size(std::string_view text) {
  std::size_t at = 0;
  if (at < text.size() && (text[at] == '+' || text[at] == '-')) ++at;
  while (at < text.size() && (is_digit(text[at]) || is_mark(text[at]))) ++at;
  if (at >= text.size() || to_upper(text[at]) != 'E') return at;
  std::size_t power = at + 1;
  if (power < text.size() && (text[power] == '+' || text[power] == '-')) ++power;
  if (power >= text.size() || !is_digit(text[power])) return at;  // a unit that begins with e
  while (power < text.size() && is_digit(text[power])) ++power;
  return power;
}

// One mark with up to three digits before it and exactly three after it may separate thousands.
bool may_part_thousands(std::string_view number) {
  if (number.starts_with('+') || number.starts_with('-')) number.remove_prefix(1);
  std::size_t const mark = std::min(number.find_first_of(".,"), number.size());
  return mark >= 1 && mark <= 3 && number[0] != '0' && number.size() == mark + 4;
}

NumberProblem check_marks(std::string_view number, DecimalMark usual) {
  auto const marks = std::ranges::count_if(number, is_mark);
  if (marks > 1 || number.find('\'') != std::string_view::npos) return NumberProblem::thousands;
  bool const comma = number.find(',') != std::string_view::npos;
  bool const odd = usual != DecimalMark::unknown && comma != (usual == DecimalMark::comma);
  if (marks == 1 && odd && may_part_thousands(number)) return NumberProblem::ambiguous;
  return NumberProblem::none;
}

}  // namespace

CellNumber read_cell_number(std::string_view text, DecimalMark usual) {
  std::string const plain = plain_signs(text);
  std::size_t const size = number_size(plain);
  std::string number = plain.substr(0, size);
  std::string_view const rest = trim(std::string_view(plain).substr(size));
  CellNumber cell{.unit = std::string{rest}};
  auto const refused = [&](NumberProblem problem) {
    cell.problem = problem;
    return cell;
  };
  if (!std::ranges::any_of(number, is_digit)) return refused(NumberProblem::no_number);
  bool const goes_on = !rest.empty() && (is_digit(rest.front()) || is_mark(rest.front()) ||
                                         rest.front() == '-' || rest.front() == '+');
  if (goes_on)
    return refused(is_blank(plain[size]) && is_digit(rest.front()) ? NumberProblem::thousands
                                                                   : NumberProblem::no_number);
  if (auto const problem = check_marks(number, usual); problem != NumberProblem::none)
    return refused(problem);
  cell.decimal_comma = number.find(',') != std::string::npos;
  std::ranges::replace(number, ',', '.');
  char const* first = number.data() + (number.starts_with('+') ? 1 : 0);
  char const* const last = number.data() + number.size();
  auto const [stop, error] = std::from_chars(first, last, cell.value);
  if (error == std::errc::result_out_of_range) return refused(NumberProblem::not_finite);
  if (error != std::errc{} || stop != last) return refused(NumberProblem::no_number);
  return cell;
}

std::string problem_text(NumberProblem problem, std::string_view cell, std::string_view column) {
  auto const said = [&](char const* what) {
    return fmt::format("'{}' in column {} {}", cell, column, what);
  };
  switch (problem) {
    case NumberProblem::thousands:
      return said("has thousands separators, or two decimal marks");
    case NumberProblem::ambiguous:
      return said("may have a decimal mark or a thousands separator");
    case NumberProblem::not_finite:
      return said("is too large or too small");
    default:
      return said("is not a number");
  }
}

std::string remedy(NumberProblem problem) {
  switch (problem) {
    case NumberProblem::thousands:
      return "write 1234.5, or 1234,5 where semicolons separate the columns";
    case NumberProblem::ambiguous:
      return "use the same decimal mark as in the other cells";
    case NumberProblem::not_finite:
      return "correct the cell";
    default:
      return "write a number, or leave the cell empty";
  }
}

DecimalMark mark_shown(std::string_view text) {
  CellNumber const cell = read_cell_number(text, DecimalMark::unknown);
  if (cell.problem != NumberProblem::none || may_part_thousands(text)) return DecimalMark::unknown;
  if (cell.decimal_comma) return DecimalMark::comma;
  return text.find('.') != std::string_view::npos ? DecimalMark::point : DecimalMark::unknown;
}

}  // namespace meltlag
