// SPDX-License-Identifier: MIT
// Lines to moves and halts: the modal state of the printer.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>
#include <stdexcept>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double nothing_mm = 1e-7;  // shorter is no movement of the head
constexpr double off_radius_mm = 0.005;
constexpr double nothing_e_mm = 1e-10;

class Interpreter {
 public:
  Interpreter(const Machine& machine, const Plant& plant, Program& out)
      : machine_(machine), plant_(plant), out_(out), limits_(machine.limits) {
    retract_mm_ = machine.retract_mm;
    retract_speed_ = machine.retract_speed_mm_s;
  }

  void run(const Line& line) {
    line_ = line.number;
    if (line.checksum_bad) notice("checksum does not match");
    if (line.kind == LineKind::macro) halt(HaltKind::stop);
    for (const Command& command : line.commands) one(command);
  }

 private:
  void notice(const std::string& what) {
    out_.notices.push_back("line " + std::to_string(line_) + ": " + what);
  }

  void halt(HaltKind kind, double seconds = 0) {
    out_.halts.push_back({line_, out_.moves.size(), kind, seconds, set_c_, false});
  }

  void one(const Command& command) {
    if (command.bare) return move(command, motion_);
    const int code = command.code();
    if (command.letter() == 'T') {
      halt(HaltKind::stop);
      out_.halts.back().tool_change = true;
      tool_ = command.code();
      return;
    }
    if (command.letter() == 'M') return m_code(command, code / 10);
    if (code % 10 == 0) g_code(command, code / 10);
  }

  void g_code(const Command& command, int code) {
    switch (code) {
      case 0:
      case 1:
      case 2:
      case 3:
        motion_ = code;
        move(command, code);
        break;
      case 4:
        dwell(command);
        break;
      case 10:
      case 11:
        retract(command, code);
        break;
      case 20:
        unit_ = 25.4;
        break;
      case 21:
        unit_ = 1;
        break;
      case 28:
        home(command);
        break;
      case 29:
        halt(HaltKind::wait);
        break;
      case 90:
        relative_ = false;
        break;
      case 91:
        relative_ = true;
        break;
      case 92:
        set_position(command);
        break;
      default:
        break;
    }
  }

  void m_code(const Command& command, int code) {
    switch (code) {
      case 0:
      case 1:
      case 600:
      case 190:
        halt(HaltKind::wait);
        break;
      case 82:
        e_relative_ = false;
        break;
      case 83:
        e_relative_ = true;
        break;
      case 104:
        temperature(command);
        break;
      case 109:
        temperature(command);
        halt(HaltKind::wait);
        break;
      case 400:
        halt(HaltKind::stop);
        break;
      case 200:
        volumetric(command);
        break;
      case 201:
        per_axis(command, limits_.max_acceleration_mm_s2);
        break;
      case 203:
        per_axis(command, limits_.max_speed_mm_s);
        break;
      case 204:
        acceleration(command);
        break;
      case 205:
        per_axis(command, limits_.jump_mm_s);
        break;
      case 207:
        retract_setting(command);
        break;
      case 220:
        if (positive(command, 'S')) speed_ = *command.get('S') / 100;
        break;
      case 221:
        if (positive(command, 'S')) flow_ = *command.get('S') / 100;
        break;
      default:
        break;
    }
  }

  static bool positive(const Command& command, char name) {
    return command.get(name).value_or(0) > 0;
  }

  void dwell(const Command& command) {
    double seconds = command.get('P').value_or(0) / 1000;
    if (const auto given = command.get('S')) seconds = *given;  // beats P
    halt(HaltKind::dwell, std::max(0.0, seconds));
  }

  void temperature(const Command& command) {
    if (const auto s = command.get('S'))
      set_c_ = *s;
    else if (const auto r = command.get('R'))
      set_c_ = *r;
  }

  void volumetric(const Command& command) {
    if (const auto d = command.get('D')) volumetric_area_ = *d > 0 ? pi * *d * *d / 4 : 0;
    if (command.get('S').value_or(1) == 0) volumetric_area_ = 0;
  }

  void per_axis(const Command& command, PerAxis& values) {
    const std::array<char, 4> names{'X', 'Y', 'Z', 'E'};
    for (std::size_t k = 0; k < 4; ++k) {
      if (positive(command, names[k])) values[k] = *command.get(names[k]);
    }
  }

  void acceleration(const Command& command) {
    for (const char name : {'S', 'P'}) {
      if (!positive(command, name)) continue;
      limits_.acceleration_mm_s2 = limits_.travel_acceleration_mm_s2 = *command.get(name);
    }
    if (command.has('P') && positive(command, 'T')) {
      limits_.travel_acceleration_mm_s2 = *command.get('T');
    }
    if (positive(command, 'R')) limits_.retract_acceleration_mm_s2 = *command.get('R');
  }

  void retract_setting(const Command& command) {
    if (const auto s = command.get('S')) {
      retract_mm_ = std::abs(*s) * unit_;
      amount_set_ = true;
    }
    if (positive(command, 'F')) retract_speed_ = *command.get('F') * unit_ / 60;
  }

  void retract(const Command& command, int code) {
    if (command.words.size() > 1) {
      if (code == 10 && command.has('S')) temperature(command);
      return;
    }
    const bool back = code == 10;
    if (back == retracted_tools_.contains(tool_)) return;
    back ? void(retracted_tools_.insert(tool_)) : void(retracted_tools_.erase(tool_));
    Move move;
    move.start_mm = move.end_mm = at_;
    move.e_mm = back ? -retract_mm_ : retract_mm_;
    move.volume_mm3 = move.e_mm * plant_.area_mm2();
    move.unset_amount = !amount_set_;
    finish(move, retract_speed_);
  }

  void home(const Command& command) {
    const std::array<char, 3> names{'X', 'Y', 'Z'};
    const bool all = !command.has('X') && !command.has('Y') && !command.has('Z');
    for (std::size_t k = 0; k < 3; ++k) {
      if (all || command.has(names[k])) at_[k] = offset_[k] = 0;
    }
    halt(HaltKind::wait);
  }

  void set_position(const Command& command) {
    const std::array<char, 3> names{'X', 'Y', 'Z'};
    const bool all = command.words.size() == 1;
    for (std::size_t k = 0; k < 3; ++k) {
      const auto value = command.get(names[k]);
      if (value || all) offset_[k] = at_[k] - value.value_or(0) * unit_;
    }
    if (command.get('E') || all) e_ = command.get('E').value_or(0) * unit_;
  }

  void check(const Command& command) {
    bool bad = command.junk;
    for (std::size_t i = command.bare ? 0 : 1; i < command.words.size(); ++i) {
      bad = bad || !command.words[i].has_value || std::abs(command.words[i].value * unit_) > 1e6;
    }
    if (bad) throw std::runtime_error("line " + std::to_string(line_) + ": unreadable motion");
  }

  void move(const Command& command, int code) {
    check(command);
    if (positive(command, 'F')) feed_ = *command.get('F') * unit_ / 60;
    Move move;
    move.start_mm = move.end_mm = at_;
    const std::array<char, 3> names{'X', 'Y', 'Z'};
    for (std::size_t k = 0; k < 3; ++k) {
      const auto value = command.get(names[k]);
      if (!value) continue;
      move.end_mm[k] = *value * unit_ + (relative_ ? at_[k] : offset_[k]);
    }
    if (const auto e = command.get('E')) add_e(*e * unit_, move);
    if (code >= 2) {
      move.arc = make_arc(command, code == 2 ? Turn::clockwise : Turn::anticlockwise, unit_, move);
      note_arc(move);
    }
    finish(move, feed_ * speed_);
  }

  void add_e(double value, Move& move) {
    const bool covers = relative_ && machine_.e_mode == EMode::g91_covers_e;
    double by = value;
    if (!e_relative_ && !covers) by = value - e_;
    e_ = e_relative_ || covers ? e_ + value : value;
    by *= flow_;
    move.e_mm = volumetric_area_ > 0 ? by / volumetric_area_ : by;
    move.volume_mm3 = volumetric_area_ > 0 ? by : by * plant_.area_mm2();
  }

  void note_arc(const Move& move) {
    if (!move.arc) return notice("arc without a centre, taken as a straight move");
    const double off = std::abs(move.arc->start_radius_mm - move.arc->end_radius_mm);
    if (off > off_radius_mm) notice("arc off its radius");
  }

  void finish(Move& move, double feed) {
    move.line = line_;
    move.feed_mm_s = feed;
    move.limits = limits_;
    move.set_c = set_c_;
    double flat = std::hypot(move.end_mm[0] - at_[0], move.end_mm[1] - at_[1]);
    if (move.arc) {
      flat = std::abs(move.arc->sweep) * (move.arc->start_radius_mm + move.arc->end_radius_mm) / 2;
    }
    move.length_mm = std::hypot(flat, move.end_mm[2] - at_[2]);
    if (std::abs(move.e_mm) < nothing_e_mm) move.e_mm = move.volume_mm3 = 0;
    at_ = move.end_mm;
    const bool head = move.length_mm > nothing_mm;
    if (!head && move.e_mm == 0) return;
    move.kind = !head           ? MoveKind::e_only
                : move.e_mm > 0 ? MoveKind::print
                : move.e_mm < 0 ? MoveKind::unprint
                                : MoveKind::travel;
    move.travels =
        move.kind == MoveKind::travel ||
        (move.kind == MoveKind::unprint && machine_.travel_rule == TravelRule::all_travels);
    if (!head) {
      move.length_mm = 0;
      move.arc.reset();
    }
    out_.moves.push_back(move);
  }

  const Machine& machine_;
  const Plant& plant_;
  Program& out_;
  Limits limits_;
  std::size_t line_ = 0;
  Point at_{}, offset_{};
  double e_ = 0, feed_ = 25, unit_ = 1, speed_ = 1, flow_ = 1, volumetric_area_ = 0;
  double retract_mm_ = 1, retract_speed_ = 25;
  int motion_ = 1;
  bool relative_ = false, e_relative_ = false, amount_set_ = false;
  int tool_ = 0;
  std::set<int> retracted_tools_;  // each has its own G10 (common practice, no source)
  std::optional<double> set_c_;
};

}  // namespace

double Plant::area_mm2() const { return pi * slicer_diameter_mm * slicer_diameter_mm / 4; }

Program read_program(std::string_view text, const Machine& machine, const Plant& plant) {
  Program program;
  if (text.find('\0') != std::string_view::npos) {
    throw std::runtime_error("a NUL byte: this is no text");
  }
  program.lines = split_lines(text);
  Interpreter interpreter(machine, plant, program);
  for (const Line& line : program.lines) interpreter.run(line);
  return program;
}

}  // namespace meltlag_reference
