// SPDX-License-Identifier: MIT
#include "meltlag/reading/printed_path.hpp"

#include <algorithm>
#include <charconv>

#include "meltlag/base/error.hpp"
#include "meltlag/base/text.hpp"
#include "meltlag/base/vec.hpp"
#include "meltlag/reading/caliper.hpp"

namespace meltlag::reading {
namespace {

constexpr std::size_t most_moves = 2'000'000;

// The number at the beginning of `text`, which loses it; 0 where there is none.
int take_number(std::string_view& text) {
  int number = 0;
  auto const read = std::from_chars(text.data(), text.data() + text.size(), number);
  text.remove_prefix(static_cast<std::size_t>(read.ptr - text.data()));
  return number;
}

// True when `text` began with `word`, which it loses.
bool take(std::string_view& text, std::string_view word) {
  if (!text.starts_with(word)) return false;
  text.remove_prefix(word.size());
  return true;
}

// "; trace 4: large step, copy 2, layer 7"; "; lead-in, layer 1" begins the fence, without a trace.
bool read_mark(std::string_view comment, TraceMark& mark) {
  std::string_view rest = comment;
  if (take(rest, "; lead-in, layer ")) {
    mark.group = "lead-in";
    mark.layer = take_number(rest);
    return true;
  }
  if (!take(rest, "; trace ")) return false;
  std::size_t const colon = rest.find(": "), copy = rest.find(", copy ");
  if (colon == std::string_view::npos || copy == std::string_view::npos || copy < colon)
    return false;
  mark.trace = rest.substr(0, colon);
  mark.group = rest.substr(colon + 2, copy - colon - 2);
  rest.remove_prefix(copy);
  if (!take(rest, ", copy ")) return false;
  mark.copy = take_number(rest);
  mark.layer = take(rest, ", layer ") ? take_number(rest) : 0;
  return true;
}

class PathMaker final : public motion::WalkSink {
 public:
  explicit PathMaker(PrintedPath& path) : path_(path) {}

 private:
  void on_line(gcode::Block const& block, gcode::LineRole) override {
    TraceMark mark{.line = block.line, .trace = {}, .group = {}};
    if (block.words.empty() && read_mark(block.comment, mark)) path_.marks.push_back(mark);
  }
  void on_timed_move(motion::TimedMove const& timed) override {
    if (path_.moves.size() == most_moves)
      throw Error("the file has more than two million moves",
                  {.file = path_.name, .line = timed.move.line},
                  "measure a smaller print: the test piece has some thousands of moves");
    path_.move_of_line.emplace(timed.move.line, path_.moves.size());
    path_.moves.push_back({.timed = timed, .way_mm = way_mm_});
    way_mm_ += path_.moves.back().length_mm();
  }
  void on_halt(gcode::Halt const& halt, double) override {
    if (halt.kind == gcode::HaltKind::stop) return;
    path_.rests.push_back({.before_move = path_.moves.size(),
                           .unknown_length = halt.kind == gcode::HaltKind::wait,
                           .dwell_s = halt.dwell_s});
  }

  PrintedPath& path_;
  double way_mm_ = 0;
};

void find_straights(std::vector<PathMove>& moves) {
  std::vector<std::size_t> run;
  auto const close = [&] {
    if (run.empty()) return;
    double const from = moves[run.front()].way_mm;
    double const to = moves[run.back()].way_mm + moves[run.back()].length_mm();
    for (std::size_t const i : run) {
      moves[i].straight_from_mm = from;
      moves[i].straight_to_mm = to;
    }
    run.clear();
  };
  for (std::size_t i = 0; i < moves.size(); ++i) {
    gcode::Move const& move = moves[i].timed.move;
    if (move.kind == gcode::MoveKind::e_only) {
      moves[i].straight_from_mm = moves[i].straight_to_mm = moves[i].way_mm;
      continue;
    }
    bool const joins = !run.empty() && goes_on(moves[run.back()].timed.move, move);
    if (!joins) close();
    run.push_back(i);
  }
  close();
}

}  // namespace

double PathMove::length_mm() const {
  return timed.move.kind == gcode::MoveKind::e_only ? 0 : timed.speed.length_mm;
}

TraceMark const* PrintedPath::mark_of(std::int64_t line) const {
  auto const behind =
      std::upper_bound(marks.begin(), marks.end(), line, [](std::int64_t l, TraceMark const& m) {
        return l < m.line;
      });
  return behind == marks.begin() ? nullptr : &*std::prev(behind);
}

double PrintedPath::way_mm() const {
  return moves.empty() ? 0 : moves.back().way_mm + moves.back().length_mm();
}

PrintedPath read_path(gcode::LineSource source, PathOptions const& options, Notices& notices) {
  PrintedPath path;
  path.name = source.name();
  path.filament_mm2 = circle_area(options.slicer_diameter_mm);
  PathMaker maker(path);
  path.lines = motion::walk(std::move(source), options, notices, maker).lines;
  find_straights(path.moves);
  return path;
}

}  // namespace meltlag::reading
