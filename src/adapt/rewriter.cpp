// SPDX-License-Identifier: MIT
#include "rewriter.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "e_digits.hpp"
#include "meltlag/base/text.hpp"
#include "meltlag/gcode/format.hpp"

namespace meltlag::adapt {
namespace {

constexpr int fewest_xyz_decimals =
    4;  // one more than slicers write: corners stay as fast as they were
constexpr double same_register = 1e-9;
constexpr int most_decimals = 9;
constexpr int feed_decimals = 3;
constexpr double mm_per_inch = 25.4;
constexpr std::array<char, 3> path_axes{'X', 'Y', 'Z'};

double component(Vec3 const& v, std::size_t axis) {
  return axis == 0 ? v.x : axis == 1 ? v.y : v.z;
}

double& component(Vec3& v, std::size_t axis) { return axis == 0 ? v.x : axis == 1 ? v.y : v.z; }

double rounded(double value, int decimals) {
  double const scale = std::pow(10.0, decimals);
  return std::round(value * scale) / scale;
}

bool is_motion_word(gcode::Word const& word) {
  return word.letter == 'G' && word.has_value && word.value <= 3;
}

}  // namespace

gcode::Word const* Rewriter::word(char letter) const {
  gcode::Word const* found = nullptr;
  for (auto const& w : block_.words)
    if (w.letter == letter && w.has_value) found = &w;
  return found;
}

int Rewriter::needed_e_decimals() const {
  return std::min(std::max(fewest_e_decimals + (mm_per_unit_ > 1 ? 2 : 0), bead_decimals_),
                  most_e_decimals);
}

int Rewriter::e_decimals() const {
  int decimals = needed_e_decimals();
  if (auto const* e = word('E')) decimals = std::max(decimals, gcode::decimals_of(block_, *e));
  return std::min(decimals, most_e_decimals);
}

int Rewriter::xyz_decimals(char letter) const {
  int decimals = fewest_xyz_decimals + (mm_per_unit_ > 1 ? 1 : 0);
  if (auto const* w = word(letter)) decimals = std::max(decimals, gcode::decimals_of(block_, *w));
  return std::min(decimals, most_decimals);
}

std::string_view Rewriter::body() const {
  std::string_view const text = gcode::without_number(block_);
  return block_.has_checksum ? text.substr(0, text.rfind('*')) : text;
}

void Rewriter::emit(std::string_view body, std::string_view line_break) {
  if (block_.has_number) {
    auto const number =
        static_cast<std::uint64_t>(static_cast<std::int64_t>(block_.number) + number_shift_);
    gcode::append_numbered(
        out_, number, body, block_.has_checksum ? gcode::Checksum::append : gcode::Checksum::none);
  } else {
    out_ += body;
  }
  out_ += line_break;
  ++lines_out_;
}

void Rewriter::insert(std::string_view body) {
  emit(body, line_break_.empty() ? std::string_view("\n") : line_break_);
  if (block_.has_number) ++number_shift_;
}

void Rewriter::open(SourceLine const& line) {
  if (!line.line_break.empty()) line_break_ = line.line_break;
  gcode::read_block(line.text, block_);
  mm_per_unit_in_front_ = mm_per_unit_;
  for (auto const& w : block_.words) {
    if (w.letter != 'G') continue;
    if (w.value == 20) count_in(mm_per_inch);
    if (w.value == 21) count_in(1);
  }
}

// What was counted in the old unit reads as another number in the new one.
void Rewriter::count_in(double mm_per_unit) {
  e_register_ *= mm_per_unit_ / mm_per_unit;
  e_carry_ *= mm_per_unit_ / mm_per_unit;
  mm_per_unit_ = mm_per_unit;
}

// Kept text counts E as the file does. Written in front of the line, thus in the unit in force
// there.
void Rewriter::put_back_register(double e_word) {
  if (std::abs(e_register_ - e_word) <= same_register) return;
  scratch_ = "G92 E";
  gcode::append_number(scratch_, e_word * (mm_per_unit_ / mm_per_unit_in_front_), most_decimals);
  insert(scratch_);
}

bool Rewriter::has_g92() const {
  return std::ranges::any_of(block_.words,
                             [](gcode::Word const& w) { return w.letter == 'G' && w.value == 92; });
}

// What a kept line does to the count: from the file's own where it says where E is to be, else on
// from ours.
void Rewriter::count_as_file(SourceLine const& line, bool absolute) {
  double const before = line.e_before * (mm_per_unit_in_front_ / mm_per_unit_);
  if (absolute) put_back_register(before);
  e_register_ = absolute ? line.e_behind : e_register_ + line.e_behind - before;
}

void Rewriter::keep(SourceLine const& line) {
  if (block_.has_number && number_shift_ != 0) {
    emit(body(), line.line_break);
  } else {
    out_ += line.text;
    out_ += line.line_break;
    ++lines_out_;
  }
}

void Rewriter::other(SourceLine const& line) {
  open(line);
  count_other(line);
  if (slowed_mm_min_ && leaves_the_head_to_others()) restore_feed();
  keep(line);
}

// What a line that is no move says about E's count and the line numbers.
void Rewriter::count_other(SourceLine const& line) {
  auto const has = [&](auto const& which) { return std::ranges::any_of(block_.words, which); };
  if (has([](gcode::Word const& w) { return w.letter == 'M' && w.value == 110; }))
    number_shift_ = 0;
  bool const counts = word('E') != nullptr;
  if (has_g92()) {
    bool const bare = !has([](gcode::Word const& w) {
      return w.letter == 'X' || w.letter == 'Y' || w.letter == 'Z' || w.letter == 'E';
    });
    auto const letter_e = [](gcode::Word const& w) { return w.letter == 'E'; };
    if (std::ranges::count_if(block_.words, letter_e) > 1) {
      count_as_file(line, true);
    } else if (counts || bare) {
      e_register_ = line.e_behind;
    }
  } else if (counts && line.e_behind != line.e_before) {
    count_as_file(line, word('E')->value == line.e_behind);
  }
}

// A tool change or a macro of the printer may move at the F in force.
bool Rewriter::leaves_the_head_to_others() const {
  if (!block_.words.empty()) return block_.words.front().letter == 'T';
  std::string_view const text = trim(block_.text);
  return !text.empty() && text.front() != ';' && text.front() != '(' && text.front() != '%';
}

// The file's own F comes back in front of a line that relies on it.
void Rewriter::restore_feed() {
  scratch_ = "G1 F";
  gcode::append_number(scratch_, file_feed_mm_min_ / mm_per_unit_, feed_decimals);
  insert(scratch_);
  slowed_mm_min_.reset();
}

// Appends F where the one in force is not the one wanted.
void Rewriter::append_feed(PlannedMove const& planned, Part const& part, std::string& body) {
  bool const slow = part.feed_mm_s > 0;
  double const word =
      slow ? part.feed_mm_s * planned.move.write.feed_words_per_mm_s : planned.move.feed_word;
  double const wanted = word * mm_per_unit_;
  bool const own_words = !slow && !slowed_mm_min_ && part.first && !part.last;
  if (own_words) {
    auto const* f = this->word('F');
    if (f == nullptr) return;
    body += ' ';
    body += block_.text.substr(f->begin, f->end - f->begin);
    return;
  }
  constexpr double same_mm_min = 1e-3;
  bool const stands =
      slow ? slowed_mm_min_ && std::abs(*slowed_mm_min_ - wanted) < same_mm_min : !slowed_mm_min_;
  slowed_mm_min_.reset();
  if (slow) slowed_mm_min_ = wanted;
  if (stands) return;
  body += " F";
  gcode::append_number(body, word, feed_decimals);
}

void Rewriter::move(SourceLine const& line, PlannedMove const& planned) {
  open(line);
  count_in(planned.move.write.mm_per_unit);
  file_feed_mm_min_ = planned.move.feed_word * mm_per_unit_;
  double const held = hold_back(planned);
  write(line, planned);
  e_carry_ += held;
}

// What rounding kept back may be much for a small bead: the share that would show waits for a
// greater one. Returns that share; between beads E is written as finely as in the last one.
double Rewriter::hold_back(PlannedMove const& planned) {
  double const bead = bead_word(planned);
  if (bead <= 0) return 0;
  bead_decimals_ = decimals_for_bead(bead);
  bead_mm_ = bead * mm_per_unit_;
  double const most = bead_rounding_share / 2 * bead;
  double const held = e_carry_ - std::clamp(e_carry_, -most, most);
  e_carry_ -= held;
  return held;
}

void Rewriter::write(SourceLine const& line, PlannedMove const& planned) {
  if (planned.move.bare_retract) {
    auto const tool = gcode::tool_bit(planned.move.tool);
    bool const ours = planned.move.e_mm < 0 && planned.extrusion != ExtrusionPolicy::as_written;
    drawn_back_by_us_ = ours ? drawn_back_by_us_ | tool : drawn_back_by_us_ & ~tool;
  }
  if (planned.extrusion == ExtrusionPolicy::absorbed) {
    absorb(line, planned);
  } else if (planned.extrusion == ExtrusionPolicy::free_stroke && planned.stroke_e_mm != 0) {
    stroke(line, planned);
  } else if (planned.extrusion == ExtrusionPolicy::flow_right && planned.move.length_mm <= 0) {
    double const feed_mm_s = planned.move.bare_retract ? planned.move.feed_mm_s : 0;
    last(planned, {0, 0, planned.flow_right_e_mm, feed_mm_s, true, true});
    emit(scratch_, line.line_break);
  } else if (!planned.pieces.empty()) {
    cut(line, planned);
  } else {
    keep_move(line, planned.move);
  }
}

void Rewriter::keep_move(SourceLine const& line, gcode::Move const& move) {
  // A travel may repeat the count, as some slicers do: that must not turn the screw.
  bool const turns = (move.e_mm != 0 || word('E') != nullptr) && !move.bare_retract;
  bool const sets = has_g92();
  if (turns || sets) count_as_file(line, sets || !move.write.e_relative);
  keep_feed(move);
  keep(line);
}

// What a kept line's own F, or the want of one, means for the F in force.
void Rewriter::keep_feed(gcode::Move const& move) {
  if (!slowed_mm_min_ || move.bare_retract) return;
  if (word('F') != nullptr) {
    slowed_mm_min_.reset();
  } else {
    restore_feed();
  }
}

// Leaves the line's text without its E words in scratch_.
void Rewriter::without_e() {
  std::string_view const text = body();
  std::size_t const shift = static_cast<std::size_t>(text.data() - block_.text.data());
  std::size_t at = 0;
  scratch_.clear();
  for (auto const& w : block_.words) {
    if (w.letter != 'E') continue;
    scratch_ += text.substr(at, w.begin - shift - at);
    at = w.end - shift;
    while (at < text.size() && is_blank(text[at])) ++at;
  }
  scratch_ += text.substr(at);
}

void Rewriter::still(SourceLine const& line) {
  open(line);
  if (drawn_back_by_us_ != 0 && is_bare_retract()) return drop_words(line);
  if (word('F') != nullptr) slowed_mm_min_.reset();
  auto const* e = word('E');
  if (e == nullptr || std::abs(e->value - e_register_) <= same_register) {
    keep(line);
    return;
  }
  without_e();
  emit(scratch_, line.line_break);
}

bool Rewriter::is_bare_retract() const {
  gcode::Word const* const g = word('G');
  return block_.words.size() == 1 && g != nullptr && g->value == 10;
}

// Words go, comments of either kind stay; F stays with the command it belongs to.
void Rewriter::absorb(SourceLine const& line, PlannedMove const& planned) {
  auto const* e = word('E');
  if (word('F') == nullptr || e == nullptr || planned.move.bare_retract) return drop_words(line);
  slowed_mm_min_.reset();
  without_e();
  emit(scratch_, line.line_break);
}

void Rewriter::drop_words(SourceLine const& line) {
  std::string_view const text = body();
  std::size_t const shift = static_cast<std::size_t>(text.data() - block_.text.data());
  std::size_t at = 0;
  scratch_.clear();
  for (auto const& w : block_.words) {
    scratch_ += text.substr(at, w.begin - shift - at);
    at = w.end - shift;
  }
  scratch_ += text.substr(at);
  std::string const kept(trim(scratch_));
  scratch_ = kept;
  if (scratch_.empty()) {
    if (block_.has_number) --number_shift_;
    return;
  }
  emit(scratch_, line.line_break);
}

// Firmware that counts in single precision would lose what the digits say where the count is large.
// The line after it may have any place of the path; nothing waits for G92.
void Rewriter::count_anew(PlannedMove const& planned, double e_mm) {
  if (planned.move.write.e_relative) return;
  double const e = e_mm * planned.move.write.e_words_per_mm;
  double const farthest = std::max(std::abs(e_register_), std::abs(e_register_ + e));
  double allowed_mm = std::pow(10.0, -fewest_e_decimals);
  if (bead_mm_ > 0) allowed_mm = std::min(allowed_mm, bead_rounding_share * bead_mm_);
  bool const lossless = single_precision_step(farthest * mm_per_unit_) <= allowed_mm;
  if (lossless || std::abs(e_register_) <= std::abs(e)) return;
  insert("G92 E0");
  e_register_ = 0;
  ++e_words_.counts_anew;
}

// Counts a bead that is written anew.
void Rewriter::count_bead(PlannedMove const& planned) {
  if (bead_word(planned) <= 0) return;
  ++e_words_.beads;
  if (bead_decimals_ > EWords::many_decimals) ++e_words_.fine_beads;
}

// What E goes, to its last digit; the rest is carried on. A move with E keeps some: without any the
// printer would drive it with the acceleration of travels.
void Rewriter::append_e(PlannedMove const& planned, double e_mm, std::string& body) {
  auto const& write = planned.move.write;
  int const decimals = e_decimals();
  double const e = e_mm * write.e_words_per_mm;
  double const before = write.e_relative ? 0 : e_register_;
  double const target = before + e + e_carry_;
  double out = rounded(target, decimals);
  if (out == before && planned.move.e_mm != 0)
    out = rounded(before + (target < before ? -1 : 1) * std::pow(10.0, -decimals), decimals);
  e_carry_ = target - out;
  if (out == before) return;
  e_words_.most_decimals = std::max(e_words_.most_decimals, needed_e_decimals());
  e_register_ += out - before;
  if (!write.e_relative) e_register_ = out;
  body += " E";
  gcode::append_number(body, out, decimals);
}

void Rewriter::append_axes(PlannedMove const& planned, double to_mm, std::string& body) {
  Vec3 const at = gcode::point_at(planned.move, to_mm);
  bool const relative = planned.move.write.xyz_relative;
  for (std::size_t a = 0; a < path_axes.size(); ++a) {
    double const start = component(planned.move.start_mm, a),
                 end = component(planned.move.end_mm, a);
    bool const in_arc = planned.move.arc.radius_mm > 0 &&
                        (a == planned.move.arc.axis_a || a == planned.move.arc.axis_b);
    if (start == end && !in_arc) continue;
    int const decimals = xyz_decimals(path_axes[a]);
    double const value = component(at, a) / mm_per_unit_;
    double const out = rounded(relative ? value - component(written_, a) : value, decimals);
    component(written_, a) = relative ? component(written_, a) + out : out;
    body += ' ';
    body += path_axes[a];
    gcode::append_number(body, out, decimals);
  }
}

void Rewriter::append_arc(PlannedMove const& planned, double from_mm, std::string& body) const {
  auto const& arc = planned.move.arc;
  constexpr std::array<char, 3> offsets{'I', 'J', 'K'};
  Vec3 const from = from_mm > 0 ? written_ : (1 / mm_per_unit_) * planned.move.start_mm;
  double const a = arc.centre_a_mm / mm_per_unit_ - component(from, arc.axis_a);
  double const b = arc.centre_b_mm / mm_per_unit_ - component(from, arc.axis_b);
  constexpr int decimals = 6;
  body += ' ';
  body += offsets[arc.axis_a];
  gcode::append_number(body, a, decimals);
  body += ' ';
  body += offsets[arc.axis_b];
  gcode::append_number(body, b, decimals);
}

void Rewriter::intermediate(PlannedMove const& planned, Part const& part) {
  count_anew(planned, part.e_mm);
  scratch_.clear();
  for (auto const& w : block_.words) {
    if (is_motion_word(w)) {
      scratch_ = block_.text.substr(w.begin, w.end - w.begin);
      break;
    }
  }
  bool const arc = planned.move.arc.radius_mm > 0;
  Vec3 const start = written_;
  append_axes(planned, part.to_mm, scratch_);
  if (arc) {
    Vec3 const end = written_;
    written_ = start;
    append_arc(planned, part.from_mm, scratch_);
    written_ = end;
  }
  append_e(planned, part.e_mm, scratch_);
  append_feed(planned, part, scratch_);
  std::string_view out = scratch_;
  if (out.front() == ' ') out.remove_prefix(1);
  insert(out);
}

// The original's own words, without those that are written anew: E, and what depends on where the
// piece begins. Returns where the words end in the line's text.
std::size_t Rewriter::take_own_words(PlannedMove const& planned,
                                     Part const& part,
                                     std::string& out) {
  std::string_view const text = body();
  std::size_t const shift = static_cast<std::size_t>(text.data() - block_.text.data());
  bool const arc = planned.move.arc.radius_mm > 0;
  bool const relative = planned.move.write.xyz_relative;
  auto const anew = [&](char letter) {
    if (letter == 'E' || planned.move.bare_retract) return true;
    if (letter == 'F') return part.feed_mm_s > 0;
    if (part.first) return false;
    if (letter == 'X' || letter == 'Y' || letter == 'Z') return relative;
    return arc && (letter == 'I' || letter == 'J' || letter == 'K' || letter == 'R');
  };
  std::size_t at = 0, end_of_words = 0;
  for (auto const& w : block_.words) {
    end_of_words = w.end - shift;
    if (!anew(w.letter)) continue;
    out += text.substr(at, w.begin - shift - at);
    while (!out.empty() && is_blank(out.back())) out.pop_back();
    at = end_of_words;
  }
  out += text.substr(at, end_of_words - at);
  return end_of_words;
}

// The original's own line with its E replaced; the words that depend on where the piece begins too.
void Rewriter::last(PlannedMove const& planned, Part const& part) {
  count_anew(planned, part.e_mm);
  bool const arc = planned.move.arc.radius_mm > 0;
  bool const relative = planned.move.write.xyz_relative;
  std::string rebuilt(planned.move.bare_retract ? "G1" : "");
  std::size_t const end_of_words = take_own_words(planned, part, rebuilt);
  if (!part.first && arc) {
    bool const full_turn = word('X') == nullptr && word('Y') == nullptr && word('Z') == nullptr;
    Vec3 const start = written_;
    if (relative || full_turn) {
      append_axes(planned, planned.move.length_mm, rebuilt);
      written_ = start;
    }
    append_arc(planned, part.from_mm, rebuilt);
  } else if (!part.first && relative) {
    append_axes(planned, planned.move.length_mm, rebuilt);
  }
  append_e(planned, part.e_mm, rebuilt);
  if (part.feed_mm_s == 0 && word('F') != nullptr) slowed_mm_min_.reset();
  append_feed(planned, part, rebuilt);
  rebuilt += body().substr(end_of_words);
  scratch_ = std::move(rebuilt);
}

// A move of E alone with another amount in the same time.
void Rewriter::stroke(SourceLine const& line, PlannedMove const& planned) {
  last(planned, {0, 0, planned.stroke_e_mm, planned.speed.peak_mm_s, true, true});
  emit(scratch_, line.line_break);
}

void Rewriter::cut(SourceLine const& line, PlannedMove const& planned) {
  auto const& pieces = planned.pieces;
  auto const& write = planned.move.write;
  bool const whole = pieces.size() == 1;
  written_ = (1 / mm_per_unit_) * planned.move.start_mm;
  bool const own_feed = !slowed_mm_min_ || word('F') != nullptr;
  if (whole && write.e_relative && pieces[0].feed_mm_s == 0 && own_feed) {
    double const change =
        (pieces[0].rate * planned.move.length_mm - planned.move.e_mm) * write.e_words_per_mm +
        e_carry_;
    if (std::abs(change) < 0.5 * std::pow(10.0, -needed_e_decimals())) {
      e_carry_ = change;
      e_register_ += planned.move.e_mm * write.e_words_per_mm;
      keep_feed(planned.move);
      keep(line);
      return;
    }
  }
  count_bead(planned);
  double from = 0;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    bool const is_last = i + 1 == pieces.size();
    double const to = is_last ? planned.move.length_mm : pieces[i].end_mm;
    Part const part{from, to, pieces[i].rate * (to - from), pieces[i].feed_mm_s, i == 0, is_last};
    if (is_last) {
      last(planned, part);
    } else {
      intermediate(planned, part);
    }
    from = to;
  }
  emit(scratch_, line.line_break);
}

}  // namespace meltlag::adapt
