// SPDX-License-Identifier: MIT
// Text to lines to words, by hand.
#include <cctype>
#include <cmath>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

bool blank(char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\v' || c == '\f'; }
bool digit(char c) { return c >= '0' && c <= '9'; }
char upper(char c) { return static_cast<char>(std::toupper(static_cast<unsigned char>(c))); }
bool letter(char c) { return upper(c) >= 'A' && upper(c) <= 'Z'; }

void skip_blanks(std::string_view text, std::size_t& at) {
  while (at < text.size() && blank(text[at])) ++at;
}

// [+-] digits [. digits]; E is a letter here, never an exponent.
bool read_number(std::string_view text, std::size_t& at, double& value) {
  std::size_t i = at;
  double sign = 1;
  if (i < text.size() && (text[i] == '+' || text[i] == '-')) sign = text[i++] == '-' ? -1 : 1;
  std::string number;
  bool any = false;
  for (; i < text.size() && digit(text[i]); ++i, any = true) number += text[i];
  if (i < text.size() && text[i] == '.') {
    number += text[i++];
    for (; i < text.size() && digit(text[i]); ++i, any = true) number += text[i];
  }
  if (!any) return false;
  value = sign * std::strtod(number.c_str(), nullptr);
  at = i;
  return true;
}

// Cuts comments out of the text and puts what they say into `comment`.
std::string without_comments(std::string_view text, std::string& comment) {
  std::string code;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == ';') {
      comment += text.substr(i + 1);
      break;
    }
    const std::size_t close = text[i] == '(' ? text.find(')', i) : std::string_view::npos;
    if (close == std::string_view::npos) {
      code += text[i];
      continue;
    }
    comment += text.substr(i + 1, close - i - 1);
    i = close;
    code += ' ';
  }
  while (!comment.empty() && blank(comment.back())) comment.pop_back();
  return code;
}

// The text of these runs to the end of the line.
bool takes_text(int m) {
  return m == 16 || m == 23 || m == 28 || m == 30 || m == 32 || m == 117 || m == 118 || m == 928;
}

bool is_axis(char c) { return std::string_view("XYZEFIJR").find(c) != std::string_view::npos; }

// First word of the line: G, M or T with a number directly readable.
bool starts_with_code(std::string_view code) {
  std::size_t at = 0;
  skip_blanks(code, at);
  if (at >= code.size()) return false;
  const char first = upper(code[at++]);
  if (first != 'G' && first != 'M' && first != 'T') return false;
  skip_blanks(code, at);
  double value = 0;
  if (at >= code.size() || !digit(code[at]) || !read_number(code, at, value)) return false;
  return at >= code.size() || code[at] != '_';
}

bool begins_command(char c, const std::vector<Command>& commands) {
  if (commands.empty() || c == 'G') return true;
  return c == 'M' && commands.back().words.front().letter != 'M';
}

void read_commands(std::string_view code, std::vector<Command>& commands) {
  std::size_t at = 0;
  for (skip_blanks(code, at); at < code.size(); skip_blanks(code, at)) {
    if (!letter(code[at])) {
      if (!commands.empty()) commands.back().junk = true;
      ++at;
      continue;
    }
    Word word;
    word.letter = upper(code[at++]);
    skip_blanks(code, at);
    word.has_value = read_number(code, at, word.value);
    if (begins_command(word.letter, commands) && (word.has_value || commands.empty())) {
      commands.emplace_back();
    }
    commands.back().words.push_back(word);
    const Command& now = commands.back();
    if (now.words.front().letter == 'M' && takes_text(now.code() / 10)) return;
  }
}

bool only_axis_words(const Command& command) {
  if (command.junk) return false;
  for (const Word& word : command.words) {
    if (!is_axis(word.letter) || !word.has_value) return false;
  }
  return true;
}

bool is_motion(const Command& command) {
  if (command.bare) return true;
  if (command.letter() != 'G') return false;
  const int code = command.code();
  if (code >= 0 && code <= 30 && code % 10 == 0) return true;
  return (code == 100 || code == 110) && command.words.size() == 1;
}

void classify(std::string_view code, Line& line) {
  std::size_t at = 0;
  skip_blanks(code, at);
  if (at >= code.size() || code[at] == '%') return;
  line.kind = LineKind::macro;
  if (starts_with_code(code)) {
    read_commands(code, line.commands);
    line.kind = LineKind::code;
  } else if (is_axis(upper(code[at]))) {
    std::vector<Command> commands(1);
    read_commands(code, commands);
    if (commands.size() == 1 && only_axis_words(commands.front())) {
      line.commands = commands;
      line.commands.front().bare = true;
      line.kind = LineKind::code;
    }
  }
  line.motion = line.kind == LineKind::code;
  for (const Command& command : line.commands) line.motion = line.motion && is_motion(command);
}

// Takes `N123` off the front and `*45` off the end of the code part.
void take_frame(Line& line) {
  std::size_t at = 0;
  std::string& body = line.body;
  skip_blanks(body, at);
  std::size_t after = at + 1;
  double number = 0;
  const bool framed = at < body.size() && upper(body[at]) == 'N' && after < body.size() &&
                      digit(body[after]) && read_number(body, after, number);
  const bool text = body.find("M117") != std::string::npos && !framed;
  const std::size_t comment = body.find(';');
  const std::size_t star = body.rfind('*', comment == std::string::npos ? comment : comment);
  if (star != std::string::npos && (comment == std::string::npos || star < comment) && !text) {
    std::size_t end = star + 1;
    double sum = 0;
    skip_blanks(body, end);
    if (end < body.size() && digit(body[end]) && read_number(body, end, sum)) {
      unsigned wanted = 0;
      for (std::size_t i = 0; i < star; ++i) wanted ^= static_cast<unsigned char>(body[i]);
      line.checksum_bad = static_cast<unsigned>(sum) != wanted;
      body.erase(star, end - star);
    }
  }
  if (!framed) return;
  line.frame_number = std::lround(number);
  skip_blanks(body, after);
  body.erase(0, after);
}

}  // namespace

int Command::code() const {
  return bare ? -1 : static_cast<int>(std::lround(words.front().value * 10));
}

std::optional<double> Command::get(char name) const {
  for (std::size_t i = bare ? 0 : 1; i < words.size(); ++i) {
    if (words[i].letter == name && words[i].has_value) return words[i].value;
  }
  return std::nullopt;
}

bool Command::has(char name) const {
  for (std::size_t i = bare ? 0 : 1; i < words.size(); ++i) {
    if (words[i].letter == name) return true;
  }
  return false;
}

std::vector<Line> split_lines(std::string_view text) {
  std::vector<Line> lines;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    Line line;
    line.number = lines.size() + 1;
    line.raw = std::string(text.substr(at, end - at));
    line.body = line.raw;
    if (line.number == 1 && line.body.starts_with("\xEF\xBB\xBF")) line.body.erase(0, 3);
    take_frame(line);
    classify(without_comments(line.body, line.comment), line);
    lines.push_back(std::move(line));
    at = end + 1;
  }
  return lines;
}

}  // namespace meltlag_reference
