// SPDX-License-Identifier: MIT
#include "motion_line.hpp"

#include <cmath>

#include "arc.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "move_words.hpp"

namespace meltlag::gcode {
namespace {

constexpr int rises_to_tell = 20;

void take_feed(Line const& line, MoveWords const& words) {
  if (words.f == nullptr) return;
  double const feed = words.f->value * line.modal.mm_per_unit;
  check_size(line, *words.f, feed, largest_number);
  if (feed > 0) {
    line.modal.feed_mm_min = feed;
  } else {
    line.note("F of zero or less: ignored, the speed stays as it was");
  }
}

void take_axis(Line const& line, Word const* word, double& position_mm) {
  if (word == nullptr) return;
  double const value = word->value * line.modal.mm_per_unit;
  double const position = line.modal.xyz_relative ? position_mm + value : value;
  check_size(line, *word, value, largest_coordinate_mm);
  check_size(line, *word, position, largest_coordinate_mm);
  position_mm = position;
}

// A file wholly under G91 whose E goes on rising was meant for a printer where G91 leaves E alone.
void watch_rising_e(Line const& line, double word) {
  Modal& modal = line.modal;
  if (modal.e_relative || !modal.e_is_relative()) return;
  modal.e_rises = word > modal.last_e_word && modal.last_e_word > 0 ? modal.e_rises + 1 : 0;
  modal.last_e_word = word;
  if (modal.e_rises != rises_to_tell) return;
  line.note(
      "E keeps rising under G91, as if it were absolute: if your printer takes it so, set "
      "g91_covers_e = false");
}

void state_e_mode(Line const& line) {
  Modal& modal = line.modal;
  if (modal.e_seen) return;
  modal.e_seen = true;
  modal.e_mode_never_stated = !modal.e_mode_stated;
  if (modal.e_mode_stated) return;
  line.note(modal.e_is_relative()
                ? "neither M82 nor M83 before the first E: taken as relative because of G91"
                : "neither M82 nor M83 before the first E: taken as absolute");
}

// Returns how far the E register goes on, in mm of words.
double take_e(Line const& line, Word const* word) {
  if (word == nullptr) return 0;
  Modal& modal = line.modal;
  state_e_mode(line);
  watch_rising_e(line, word->value);
  double const value = word->value * modal.mm_per_unit;
  check_size(line, *word, value, largest_number);
  double const step = modal.e_is_relative() ? value : value - modal.e_register_mm;
  modal.e_register_mm = modal.e_is_relative() ? modal.e_register_mm + value : value;
  return step;
}

double offset_mm(Line const& line, Word const* word) {
  if (word == nullptr) return 0;
  double const value = word->value * line.modal.mm_per_unit;
  check_size(line, *word, value, largest_coordinate_mm);
  return value;
}

ArcResult find_arc(Line const& line, MoveWords const& words, Move const& move, Turn turn) {
  constexpr PlaneAxes planes[] = {{0, 1}, {2, 0}, {1, 2}};
  PlaneAxes const axes = planes[static_cast<int>(line.modal.plane)];
  if (words.r != nullptr) {
    double const radius = offset_mm(line, words.r);
    return arc_by_radius(move.start_mm, move.end_mm, axes, turn, radius);
  }
  Word const* const by_axis[] = {words.i, words.j, words.k};
  return arc_by_centre(move.start_mm,
                       move.end_mm,
                       axes,
                       turn,
                       offset_mm(line, by_axis[axes.a]),
                       offset_mm(line, by_axis[axes.b]));
}

void take_arc(Line const& line, MoveWords const& words, Move& move) {
  if (!words.has_centre() && words.r == nullptr) {
    if (!words.has_xyz()) return;  // F or E alone
    fail(line,
         line.block.words.front().begin + 1,
         "an arc has neither I, J (K) nor R",
         "Give the centre by I and J or the radius by R, or write G1 for a straight move.");
  }
  auto const turn = line.modal.motion == 2 ? Turn::clockwise : Turn::counter_clockwise;
  ArcResult const found = find_arc(line, words, move, turn);
  if (found.arc.radius_mm == 0) {
    line.note("an arc without a radius: taken as a straight move to its stated end");
    return;
  }
  if (std::abs(found.radius_off_mm) > arc_radius_tolerance_mm) {
    line.note("an arc whose end lies off its circle: it ends at its stated point");
  }
  move.arc = found.arc;
}

WriteMode write_mode(Modal const& modal) {
  double const scale = modal.e_scale() * modal.mm_per_unit;
  return {.mm_per_unit = modal.mm_per_unit,
          .xyz_relative = modal.xyz_relative,
          .e_relative = modal.e_is_relative(),
          .e_words_per_mm = scale > 0 ? 1 / scale : 0,
          .e_word_start = modal.e_register_mm / modal.mm_per_unit,
          .e_word_end = modal.e_register_mm / modal.mm_per_unit,
          .feed_words_per_mm_s = 60 / (modal.mm_per_unit * modal.feed_share)};
}

// A move that starts where the head is and goes nowhere yet.
Move begin_move(Line const& line, Company company) {
  Modal const& modal = line.modal;
  Move move;
  move.line = line.block.line;
  move.start_mm = move.end_mm = modal.position_mm;
  move.origin_mm = modal.origin_mm;
  move.feed_word = modal.feed_mm_min / modal.mm_per_unit;
  move.feed_mm_s = modal.feed_mm_min * modal.feed_share / 60;
  move.nozzle_c = modal.nozzle_c;
  move.tool = modal.tool;
  // Absorbed, such a line would leave in the file what says that the file was adapted.
  bool const says_adapted = line.block.comment.starts_with(Interpreter::marker_text);
  move.rewritable = company == Company::alone && modal.flow_share > 0 && !says_adapted;
  move.write = write_mode(modal);
  return move;
}

MoveKind kind_of(Move const& move) {
  if (move.length_mm == 0) return MoveKind::e_only;
  if (move.e_mm == 0) return MoveKind::travel;
  return move.e_mm > 0 ? MoveKind::print : MoveKind::unprint;
}

void send(Line const& line, Move const& move) {
  if (move.length_mm == 0 && move.e_mm == 0) return;
  if (move.e_mm > 0 && std::isnan(move.nozzle_c)) {
    line.note("extrusion before any nozzle temperature is set: taken as warm");
  }
  line.sink.on_move(move);
}

// A turn of the screw by what M207 and M208 say.
void send_bare(Line const& line, Company company, double e_mm, double feed_mm_s) {
  FirmwareRetract& retract = line.modal.retract;
  Move move = begin_move(line, company);
  move.e_mm = e_mm;
  move.feed_mm_s = feed_mm_s;
  move.volume_mm3 = move.e_mm * line.modal.area_mm2();
  move.kind = MoveKind::e_only;
  move.bare_retract = true;
  // A recovery is what its retract was.
  auto const bit = tool_bit(line.modal.tool);
  bool const told = e_mm < 0 ? retract.length_given : (retract.told_tools & bit) != 0;
  retract.told_tools = told ? retract.told_tools | bit : retract.told_tools & ~bit;
  move.length_told = told && retract.lift_mm == 0;
  move.rewritable = move.rewritable && move.length_told;
  send(line, move);
}

}  // namespace

void make_move(Line const& line, Words words, Company company) {
  Modal& modal = line.modal;
  MoveWords const read = collect(line, words);
  require_readable(line);
  take_feed(line, read);
  Move move = begin_move(line, company);
  take_axis(line, read.x, modal.position_mm.x);
  take_axis(line, read.y, modal.position_mm.y);
  take_axis(line, read.z, modal.position_mm.z);
  move.end_mm = modal.position_mm;
  move.e_mm = take_e(line, read.e) * modal.e_scale();
  move.volume_mm3 = move.e_mm * modal.area_mm2();
  move.write.e_word_end = modal.e_register_mm / modal.mm_per_unit;
  if (modal.motion >= 2) take_arc(line, read, move);
  move.length_mm = path_length_mm(move.start_mm, move.end_mm, move.arc);
  move.kind = kind_of(move);
  move.rapid = modal.motion == 0;
  move.rewritable = move.rewritable && read.understood;
  move.feed_written = read.f != nullptr;
  send(line, move);
}

void retract(Line const& line, Company company) {
  FirmwareRetract& retract = line.modal.retract;
  auto const bit = tool_bit(line.modal.tool);
  if ((retract.retracted_tools & bit) != 0) {
    line.note("G10 while already retracted: does nothing");
    return;
  }
  if (!retract.length_given) {
    line.note(
        "G10 without M207 S before it: 1.0 mm at 25 mm/s assumed; it stays as it is, "
        "where M207 would let it be adapted");
  }
  retract.retracted_tools |= bit;
  send_bare(line, company, -retract.length_mm, retract.feed_mm_s);
}

void recover(Line const& line, Company company) {
  FirmwareRetract& retract = line.modal.retract;
  auto const bit = tool_bit(line.modal.tool);
  if ((retract.retracted_tools & bit) == 0) {
    line.note("G11 without a G10 before it: does nothing");
    return;
  }
  retract.retracted_tools &= ~bit;
  send_bare(
      line, company, retract.length_mm + retract.extra_recovery_mm, retract.recovery_feed_mm_s);
}

}  // namespace meltlag::gcode
