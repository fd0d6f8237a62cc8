// SPDX-License-Identifier: MIT
// What must hold for the text of every emitted file.
#include <algorithm>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr std::string_view marker = "; adapted by meltlag";
constexpr std::size_t enough_words = 20;
constexpr std::size_t look_ahead = 200;
constexpr long on_the_way = -1;  // in the middle of an original move

// A line that must be found again, or the comment of a motion line.
struct Item {
  const Line* line = nullptr;
  long place = 0;  // original head moves finished in front of it
};

bool is_marker(const Line& line) { return line.body.starts_with(marker); }

// G92 with E alone restores the file's own count.
bool restores_e(const Line& line) {
  if (line.commands.size() != 1 || !line.comment.empty()) return false;
  const Command& command = line.commands.front();
  return command.letter() == 'G' && command.code() == 920 && command.words.size() == 2 &&
         command.get('E').has_value();
}

std::vector<Item> items_of(const Program& program, const std::vector<long>& places) {
  std::vector<Item> items;
  for (std::size_t i = 0; i < program.lines.size(); ++i) {
    const Line& line = program.lines[i];
    if (is_marker(line) || (line.motion && line.comment.empty())) continue;
    items.push_back({&line, places[i]});
  }
  return items;
}

// Finished head moves in front of each line; `ends` says after which moves a head move is done.
std::vector<long> places_of(const Program& program, const std::vector<long>& after_move) {
  std::vector<long> places(program.lines.size(), 0);
  std::size_t j = 0;
  long now = 0;
  for (std::size_t i = 0; i < places.size(); ++i) {
    places[i] = now;
    for (; j < program.moves.size() && program.moves[j].line == i + 1; ++j) {
      if (program.moves[j].kind != MoveKind::e_only) now = after_move[j];
    }
  }
  return places;
}

std::vector<long> own_count(const Program& original) {
  std::vector<long> after;
  long heads = 0;
  for (const Move& move : original.moves) {
    heads += move.kind == MoveKind::e_only ? 0 : 1;
    after.push_back(heads);
  }
  return after;
}

std::vector<long> mapped_count(const Program& original, const Mapping& mapping) {
  const std::vector<long> own = own_count(original);
  std::vector<long> after;
  for (const Piece& piece : mapping.pieces) {
    const bool known = piece.move < own.size() && piece.to >= 1;
    after.push_back(known ? own[piece.move] : on_the_way);
  }
  return after;
}

class TextCheck {
 public:
  TextCheck(const Program& original, const Program& emitted, const Mapping& mapping)
      : original_(original),
        emitted_(emitted),
        wanted_(items_of(original, places_of(original, own_count(original)))),
        found_items_(items_of(emitted, places_of(emitted, mapped_count(original, mapping)))) {}

  std::vector<std::string> run() {
    for (const Item& item : found_items_) {
      if (found_.size() >= enough_words) break;
      take(item);
    }
    for (; next_ < wanted_.size() && found_.size() < enough_words; ++next_) lost(wanted_[next_]);
    markers();
    numbers();
    return std::move(found_);
  }

 private:
  void fault(const Line& line, const std::string& what) {
    found_.push_back("line " + std::to_string(line.number) + ": " + what + ": " +
                     line.raw.substr(0, 60));
  }

  void lost(const Item& item) {
    fault(*item.line,
          item.line->motion ? "(of the original) this comment is lost"
                            : "(of the original) this line is lost or changed");
  }

  static bool same(const Item& wanted, const Item& found) {
    if (!wanted.line->motion && !found.line->motion) return wanted.line->body == found.line->body;
    const bool bare = found.line->motion || found.line->kind == LineKind::empty;
    return wanted.line->motion && bare && wanted.line->comment == found.line->comment;
  }

  void take(const Item& item) {
    std::size_t at = next_;
    const std::size_t end = std::min(wanted_.size(), next_ + look_ahead);
    while (at < end && !same(wanted_[at], item)) ++at;
    // A count put back may look like one that the file has further on: nearest only.
    const bool own = restores_e(*item.line) && !item.line->motion;
    if (own && (at > next_ || at == end || wanted_[at].place != item.place)) return;
    if (at == end) return fault(*item.line, item.line->motion ? "added comment" : "added line");
    for (; next_ < at; ++next_) lost(wanted_[next_]);
    const Item& wanted = wanted_[next_++];
    if (!wanted.line->motion && wanted.place != item.place) {
      fault(*item.line,
            "at another place of the path than line " + std::to_string(wanted.line->number) +
                " of the original");
    }
  }

  void markers() {
    std::size_t count = 0;
    for (const Line& line : emitted_.lines) count += is_marker(line) ? 1 : 0;
    if (count != 1) found_.push_back(std::to_string(count) + " marker lines instead of one");
    const std::vector<Line>& lines = emitted_.lines;
    const std::size_t place = !lines.empty() && lines[0].body.starts_with("%") ? 1 : 0;
    if (count == 1 && (lines.size() <= place || !is_marker(lines[place]))) {
      found_.push_back("line " + std::to_string(place + 1) + ": the marker is not here");
    }
  }

  // Line numbers count up by one and checksums fit, if they did in the original.
  static const Line* bad_frame(const Program& program) {
    const Line* before = nullptr;
    for (const Line& line : program.lines) {
      if (line.checksum_bad) return &line;
      if (!line.frame_number) {
        if (before != nullptr && line.kind != LineKind::empty) return &line;
        continue;
      }
      const auto resets = [](const Line& l) {
        return l.commands.size() == 1 && l.commands[0].letter() == 'M' &&
               l.commands[0].code() == 1100;
      };
      const bool free = before == nullptr || resets(line) || resets(*before);
      if (!free && *line.frame_number != *before->frame_number + 1) return &line;
      before = &line;
    }
    return nullptr;
  }

  void numbers() {
    if (bad_frame(original_) != nullptr) return;
    const auto framed = [](const Program& p) {
      return std::any_of(p.lines.begin(), p.lines.end(), [](const Line& line) {
        return line.frame_number.has_value();
      });
    };
    if (framed(original_) != framed(emitted_)) found_.push_back("line numbers added or lost");
    const Line* bad = bad_frame(emitted_);
    if (bad != nullptr) fault(*bad, "line number or checksum wrong");
  }

  const Program& original_;
  const Program& emitted_;
  std::vector<Item> wanted_, found_items_;
  std::size_t next_ = 0;
  std::vector<std::string> found_;
};

}  // namespace

std::vector<std::string> check_text(const Program& original,
                                    const Program& emitted,
                                    const Mapping& mapping) {
  return TextCheck(original, emitted, mapping).run();
}

}  // namespace meltlag_reference
