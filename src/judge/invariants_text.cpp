// SPDX-License-Identifier: MIT
#include "invariants_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

#include "meltlag/base/text.hpp"
#include "meltlag/gcode/recognise.hpp"

namespace meltlag::judge {
namespace {

using gcode::Block;
using gcode::LineRole;

constexpr std::size_t excerpt_bytes = 60;

// The line without its N word and checksum.
std::string_view body_of(Block const& block) {
  std::string_view body = gcode::without_number(block);
  if (!block.has_number) return body;
  if (block.has_checksum) body = body.substr(0, body.rfind('*'));
  return trim(body);
}

std::size_t mix(std::size_t a, std::string_view text) {
  return (a * 1099511628211U) ^ std::hash<std::string_view>{}(text);
}

// Hash of the comments in a line; 0: none. Blanks around them do not count.
std::size_t comments_of(Block const& block) {
  std::size_t hash = 0;
  std::string_view rest = block.text.substr(0, block.text.size() - block.comment.size());
  for (std::size_t open = rest.find('('); open != std::string_view::npos; open = rest.find('(')) {
    std::size_t const shut = std::min(rest.find(')', open), rest.size() - 1);
    hash = mix(hash, trim(rest.substr(open, shut - open + 1)));
    rest.remove_prefix(shut + 1);
  }
  return block.comment.empty() ? hash : mix(hash, trim(block.comment));
}

char break_of(Block const& block) {
  if (block.line_break.empty()) return 0;
  return block.line_break.size() == 2 ? 'b' : block.line_break[0];
}

bool same_break(char a, char b) { return a == b || a == 0 || b == 0; }

// Puts E's own count back: G92 with E alone.
bool restores_e(Block const& block) {
  return block.comment.empty() && block.words.size() == 2 && block.words[0].letter == 'G' &&
         block.words[0].value == 92 && block.words[1].letter == 'E';
}

}  // namespace

void TextCheck::Frames::read(Block const& block) {
  if (!block.checksum_ok && bad_line == 0) bad_line = block.line;
  bool const resets =
      !block.words.empty() && block.words[0].letter == 'M' && block.words[0].value == 110;
  if (!block.has_number) {
    if (any && !block.words.empty() && bad_line == 0) bad_line = block.line;
    return;
  }
  if (any && !free && !resets && block.number != last + 1 && bad_line == 0) bad_line = block.line;
  any = true;
  free = resets;
  last = block.number;
}

void TextCheck::original(PlacedLine const& line) {
  original_frames_.read(line.block);
  if (line.role == LineRole::marker) return;
  bool const rewritten = line.role == LineRole::motion;
  std::size_t const text =
      rewritten ? comments_of(line.block) : std::hash<std::string_view>{}(body_of(line.block));
  if (rewritten && text == 0) return;
  wanted_.push({text, line.block.line, line.heads_done, rewritten, break_of(line.block)});
}

void TextCheck::marker(PlacedLine const& line) {
  ++markers_;
  marker_line_ = line.block.line;
}

void TextCheck::lost(Item const& item) {
  violations_.add(item.rewritten
                      ? fmt::format("the comment of the original's line {} is lost", item.line)
                      : fmt::format("line {} of the original is lost or changed", item.line));
}

// The oldest line of the original that `line` may be; wanted_.size() when there is none near.
std::size_t TextCheck::find(PlacedLine const& line, std::size_t comments) {
  bool const motion = line.role == LineRole::motion;
  std::size_t const text = motion ? 0 : std::hash<std::string_view>{}(body_of(line.block));
  auto const same = [&](Item const& item) {
    if (item.rewritten) return comments != 0 && item.text == comments;
    return !motion && item.text == text && same_break(item.line_break, break_of(line.block));
  };
  std::size_t const end = std::min(look_ahead, wanted_.size());
  for (std::size_t at = 0; at < end; ++at) {
    if (same(wanted_[at])) return at;
  }
  return wanted_.size();
}

void TextCheck::emitted(PlacedLine const& line) {
  Block const& block = line.block;
  emitted_frames_.read(block);
  if (block.line == 1) percent_first_ = gcode::is_percent(block.text);
  if (line.role == LineRole::marker) return marker(line);
  bool const motion = line.role == LineRole::motion;
  // A comment line may carry what stood after a move that is no more.
  bool const comment_only = !motion && block.words.empty() && block.bad_column == 0;
  std::size_t const comments = motion || comment_only ? comments_of(block) : 0;
  if (motion && comments == 0) return;
  std::size_t const at = find(line, comments);
  // A count put back may look like one that the file has further on: only the nearest is meant.
  bool const counts_anew = !motion && restores_e(block);
  bool const own = at > 0 || wanted_.empty() || wanted_[at].heads_done != line.heads_done;
  if (counts_anew && own) return;
  if (at == wanted_.size()) {
    violations_.add(fmt::format(
        "line {}: added or changed: {}", block.line, block.text.substr(0, excerpt_bytes)));
    return;
  }
  take(at, line);
}

// The original's item `at` is found, those before it are not.
void TextCheck::take(std::size_t at, PlacedLine const& line) {
  for (; at > 0; --at) {
    lost(wanted_.front());
    wanted_.pop();
  }
  Item const item = wanted_.front();
  wanted_.pop();
  if (item.rewritten || item.heads_done == line.heads_done) return;
  violations_.add(
      fmt::format("line {}: stands at another place of the path than line {} of the original",
                  line.block.line,
                  item.line));
}

void TextCheck::finish(std::string_view original_bom, std::string_view emitted_bom) {
  for (; !wanted_.empty(); wanted_.pop()) lost(wanted_.front());
  if (original_bom != emitted_bom) violations_.add("line 1: the byte-order mark is not kept");
  if (markers_ != 1) {
    violations_.add(
        fmt::format("{} lines say that the file was adapted, instead of one", markers_));
  } else if (marker_line_ != (percent_first_ ? 2 : 1)) {
    violations_.add(fmt::format("line {}: what says that the file was adapted is not at its start",
                                marker_line_));
  }
  if (original_frames_.bad_line != 0) return;
  if (original_frames_.any != emitted_frames_.any) {
    violations_.add("line numbers (N) are added or lost");
  } else if (emitted_frames_.bad_line != 0) {
    violations_.add(
        fmt::format("line {}: its number (N) or checksum is wrong", emitted_frames_.bad_line));
  }
}

}  // namespace meltlag::judge
