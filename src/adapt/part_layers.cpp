// SPDX-License-Identifier: MIT
#include "part_layers.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "meltlag/gcode/tolerances.hpp"

namespace meltlag::adapt {
namespace {

class PartReader : gcode::MeaningSink {
 public:
  PartReader(std::string const& path, SideBySideOptions const& options, Notices& notices)
      : reader_(path, {options.slicer_diameter_mm, options.g91_covers_e}, notices) {}

  Part run() {
    gcode::Block const& block = reader_.block();
    while (reader_.next()) {
      if (block.has_number) refuse("line numbers cannot be kept in order", "slice without them");
      bytes_ += block.text.size();
      if (bytes_ > most_job_bytes)
        refuse("the file is too large to be put side by side", "take a part of at most 8 MB");
      PartLine& line = part_.lines.emplace_back();
      line.text = block.text;
      gcode::LineRole const role = reader_.interpret(*this);
      if (role == gcode::LineRole::marker)
        refuse("this file was already adapted", "give the file as the slicer wrote it");
      line.is_motion = role == gcode::LineRole::motion;
      line.sets_mode = std::ranges::any_of(block.words, is_mode);
      line.debt_mm = debt_mm_;
    }
    find_layers();
    set_purge_apart();
    measure();
    return std::move(part_);
  }

 private:
  [[noreturn]] void refuse(std::string what, std::string hint) const {
    throw Error(
        std::move(what),
        {.file = reader_.source().name(), .line = static_cast<std::int64_t>(part_.lines.size())},
        std::move(hint));
  }
  static bool is_mode(gcode::Word const& word) {
    auto const is = [&](char letter, double value) {
      return word.letter == letter && word.value == value;
    };
    return is('M', 82) || is('M', 83) || is('G', 90) || is('G', 91) || is('G', 92);
  }

  void on_move(gcode::Move const& move) override {
    part_.lines.back().move = move;
    debt_mm_ += std::max(0.0, -move.e_mm);
    if (move.kind == gcode::MoveKind::e_only && move.e_mm > 0)
      debt_mm_ = std::max(0.0, debt_mm_ - move.e_mm);
    if (move.kind == gcode::MoveKind::travel)
      part_.fastest_feed_word = std::max(part_.fastest_feed_word, move.feed_word);
    if (move.kind == gcode::MoveKind::print) check_print(move);
  }
  void on_halt(gcode::Halt const& halt) override {
    if (halt.tool_change && printed_) refuse("the part changes tools", "take a part of one tool");
  }

  void check_print(gcode::Move const& move) {
    if (move.write.xyz_relative)
      refuse("relative coordinates cannot be moved aside", "slice with absolute coordinates");
    if (move.write.mm_per_unit != 1 || std::abs(move.write.e_words_per_mm - 1) > 1e-9)
      refuse("inches, volumetric E or M221 cannot be put side by side", "slice in mm, M221 S100");
    if (move.origin_mm.x != 0 || move.origin_mm.y != 0 || move.origin_mm.z != 0)
      refuse("G92 has shifted X, Y or Z", "slice without it");
    if (std::abs(move.end_mm.z - move.start_mm.z) > gcode::same_z_mm)
      refuse("a bead climbs here: there are no layers to take turns", "slice without spiral mode");
    printed_ = true;
  }

  // A layer begins at the first change of Z after the last bead of the one below; the first at
  // the last change of Z before its first bead.
  void find_layers() {
    double z = -1;
    for (std::size_t i = 0; i < part_.lines.size(); ++i) {
      auto const& move = part_.lines[i].move;
      if (!move || move->kind != gcode::MoveKind::print) continue;
      double const here = move->end_mm.z;
      if (part_.layers.empty() || std::abs(here - z) > gcode::same_z_mm) {
        if (!part_.layers.empty() && here < z)
          throw Error("the part goes down again here: objects one after another take no turns",
                      {.file = reader_.source().name(), .line = static_cast<std::int64_t>(i) + 1},
                      "slice layer by layer");
        begin_layer(i);
        z = here;
      }
      part_.layers.back().last_print = i;
    }
    if (part_.layers.empty())
      throw Error(
          "the file extrudes nothing while the head moves", {.file = reader_.source().name()}, "");
    part_.layers.back().end = part_.layers.back().last_print + 1;
  }
  void begin_layer(std::size_t first_print) {
    auto const climbs = [&](std::size_t i) {
      auto const& move = part_.lines[i].move;
      return move && std::abs(move->end_mm.z - move->start_mm.z) > gcode::same_z_mm;
    };
    std::size_t begin = first_print;
    if (part_.layers.empty()) {
      while (begin > 0 && !climbs(begin)) --begin;
    } else {
      begin = part_.layers.back().last_print + 1;
      while (begin < first_print && !climbs(begin)) ++begin;
      part_.layers.back().end = begin;
    }
    part_.layers.push_back(
        {.begin = begin, .end = 0, .first_print = first_print, .last_print = first_print});
  }

  // What is purged onto the bed before the part is no layer of it: the first beads, where all that
  // follows lies aside of them. Of a part of one layer nothing can be told.
  void set_purge_apart() {
    constexpr double aside_mm = 3;
    PartLayer& first = part_.layers.front();
    if (part_.layers.size() < 2) return;
    std::vector<Box> behind(part_.lines.size() + 1);
    for (std::size_t i = part_.lines.size(); i-- > first.first_print;) {
      behind[i] = behind[i + 1];
      behind[i].take(part_.lines[i]);
    }
    Box purge;
    std::size_t last_purge = 0;
    for (std::size_t i = first.first_print; i < first.last_print; ++i) {
      purge.take(part_.lines[i]);
      bool const prints = is_print(part_.lines[i]);
      if (prints && purge.is_aside_of(behind[i + 1], aside_mm)) last_purge = i;
    }
    if (last_purge == 0) return;
    first.begin = last_purge + 1;
    first.first_print = first.begin;
    while (!is_print(part_.lines[first.first_print])) ++first.first_print;
  }
  void measure() {
    Box box;
    for (std::size_t i = part_.layers.front().begin; i < part_.lines.size(); ++i)
      box.take(part_.lines[i]);
    part_.x_from_mm = box.low_x;
    part_.x_to_mm = box.high_x;
  }

  static bool is_print(PartLine const& line) {
    return line.move && line.move->kind == gcode::MoveKind::print;
  }
  // Of beads, as wide as the circles of their arcs.
  struct Box {
    double low_x = 1e300, high_x = -1e300, low_y = 1e300, high_y = -1e300;

    void take(PartLine const& line) {
      if (!is_print(line)) return;
      gcode::Move const& move = *line.move;
      double const r = move.arc.radius_mm;
      low_x = std::min({low_x, move.start_mm.x - r, move.end_mm.x - r});
      high_x = std::max({high_x, move.start_mm.x + r, move.end_mm.x + r});
      low_y = std::min({low_y, move.start_mm.y - r, move.end_mm.y - r});
      high_y = std::max({high_y, move.start_mm.y + r, move.end_mm.y + r});
    }
    [[nodiscard]] bool is_aside_of(Box const& other, double gap_mm) const {
      return other.low_x - high_x > gap_mm || low_x - other.high_x > gap_mm ||
             other.low_y - high_y > gap_mm || low_y - other.high_y > gap_mm;
    }
  };

  gcode::ProgramReader reader_;
  Part part_;
  std::size_t bytes_ = 0;
  double debt_mm_ = 0;
  bool printed_ = false;
};

}  // namespace

Part read_part(std::string const& path, SideBySideOptions const& options, Notices& notices) {
  return PartReader(path, options, notices).run();
}

}  // namespace meltlag::adapt
