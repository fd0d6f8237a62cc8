// SPDX-License-Identifier: MIT
// Lines → text: what is not rewritten comes out byte for byte, what is rewritten keeps its words,
// comment and line break.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "meltlag/adapt/pass.hpp"
#include "meltlag/gcode/block.hpp"
#include "planned_move.hpp"

namespace meltlag::adapt {

// One line as it was read.
struct SourceLine {
  std::string_view text, line_break;
  // The file's E register before and after it, each in the unit in force there.
  double e_before = 0, e_behind = 0;
};

class Rewriter {
 public:
  explicit Rewriter(std::string& out) : out_(out) {}

  // A line that made no move.
  void other(SourceLine const& line);
  // A motion line that moves nothing: an E word in it repeats the file's register, so it is dropped
  // where the emitted register has run apart.
  void still(SourceLine const& line);
  // A line that made a move: kept, absorbed or cut as planned.
  // Where it made two, `planned` is the last: such a line is always kept.
  void move(SourceLine const& line, PlannedMove const& planned);

  [[nodiscard]] std::int64_t lines_out() const { return lines_out_; }
  [[nodiscard]] EWords const& e_words() const { return e_words_; }

 private:
  void write(SourceLine const& line, PlannedMove const& planned);
  double hold_back(PlannedMove const& planned);
  void count_anew(PlannedMove const& planned, double e_mm);
  void count_bead(PlannedMove const& planned);
  void keep(SourceLine const& line);
  void keep_move(SourceLine const& line, gcode::Move const& move);
  void absorb(SourceLine const& line, PlannedMove const& planned);
  void drop_words(SourceLine const& line);
  [[nodiscard]] bool is_bare_retract() const;
  void without_e();
  void put_back_register(double e_word);
  void count_as_file(SourceLine const& line, bool absolute);
  [[nodiscard]] bool has_g92() const;
  void count_other(SourceLine const& line);
  void count_in(double mm_per_unit);
  void cut(SourceLine const& line, PlannedMove const& planned);
  void stroke(SourceLine const& line, PlannedMove const& planned);
  // One piece of a move: where it begins and ends, what E turns, the speed to ask for.
  struct Part {
    double from_mm, to_mm, e_mm, feed_mm_s;
    bool first, last;
  };
  void intermediate(PlannedMove const& planned, Part const& part);
  std::size_t take_own_words(PlannedMove const& planned, Part const& part, std::string& out);
  void last(PlannedMove const& planned, Part const& part);
  void append_feed(PlannedMove const& planned, Part const& part, std::string& body);
  void restore_feed();
  void keep_feed(gcode::Move const& move);
  [[nodiscard]] bool leaves_the_head_to_others() const;
  void append_axes(PlannedMove const& planned, double to_mm, std::string& body);
  void append_arc(PlannedMove const& planned, double from_mm, std::string& body) const;
  void append_e(PlannedMove const& planned, double e_mm, std::string& body);
  [[nodiscard]] int needed_e_decimals() const;  // by the beads
  [[nodiscard]] int e_decimals() const;         // the file's own count too
  [[nodiscard]] int xyz_decimals(char letter) const;
  [[nodiscard]] gcode::Word const* word(char letter) const;  // the last one: it is what counts
  [[nodiscard]] std::string_view body() const;               // without number and checksum
  void open(SourceLine const& line);                         // its words become block_
  void emit(std::string_view body, std::string_view line_break);
  void insert(std::string_view body);  // a line of our own in front of the present one

  std::string& out_;
  gcode::Block block_;
  std::string scratch_;
  double e_register_ = 0;  // what the printer's E register reads in the emitted file, file units
  double e_carry_ = 0;     // what rounding has kept back, file units
  int bead_decimals_ = 0;  // that E needs, by the last bead
  double bead_mm_ = 0;     // its E, in mm; 0: none yet
  EWords e_words_;
  double mm_per_unit_ = 1, mm_per_unit_in_front_ = 1;  // the latter of the line being written
  double file_feed_mm_min_ = 0;                        // the file's F in force, before M220
  std::optional<double> slowed_mm_min_;                // the emitted file's, where it is another
  std::uint64_t drawn_back_by_us_ = 0;  // of tools whose bare G10 became E, and no G11 came yet
  Vec3 written_{};  // where the emitted words have brought the head, file units (relative XYZ)
  std::int64_t number_shift_ = 0;
  std::int64_t lines_out_ = 0;
  std::string
      line_break_;  // the file's, for lines of our own; a copy, as the line's text goes away
};

}  // namespace meltlag::adapt
