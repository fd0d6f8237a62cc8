// SPDX-License-Identifier: MIT
#include "part_layers.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/gcode/source.hpp"
#include "tolerances.hpp"

namespace meltlag::adapt {
namespace {

class PartReader : gcode::MeaningSink {
 public:
  PartReader(std::string const& path, SideBySideOptions const& options, Notices& notices)
      : source_(path),
        interpreter_({.slicer_diameter_mm = options.slicer_diameter_mm,
                      .g91_covers_e = options.g91_covers_e,
                      .file_name = path},
                     notices) {}

  Part run() {
    gcode::RawLine raw;
    gcode::Block block;
    while (source_.next(raw)) {
      gcode::read_block(raw.text, block);
      block.line = raw.line;
      block.line_break = raw.line_break;
      if (block.has_number) refuse("line numbers cannot be kept in order", "slice without them");
      bytes_ += raw.text.size();
      if (bytes_ > most_job_bytes)
        refuse("the file is too large to be put side by side", "take a part of at most 8 MB");
      PartLine& line = part_.lines.emplace_back();
      line.text = raw.text;
      gcode::LineRole const role = interpreter_.interpret(block, *this);
      if (role == gcode::LineRole::marker)
        refuse("this file was already adapted", "give the file as the slicer wrote it");
      line.is_motion = role == gcode::LineRole::motion;
      line.sets_mode = std::ranges::any_of(block.words, is_mode);
      line.debt_mm = debt_mm_;
    }
    find_layers();
    return std::move(part_);
  }

 private:
  [[noreturn]] void refuse(std::string what, std::string hint) const {
    throw Error(std::move(what),
                {.file = source_.name(), .line = static_cast<std::int64_t>(part_.lines.size())},
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
  void on_setting(gcode::Setting const&) override {}

  void check_print(gcode::Move const& move) {
    if (move.write.xyz_relative)
      refuse("relative coordinates cannot be moved aside", "slice with absolute coordinates");
    if (move.write.mm_per_unit != 1 || std::abs(move.write.e_words_per_mm - 1) > 1e-9)
      refuse("inches, volumetric E or M221 cannot be put side by side", "slice in mm, M221 S100");
    if (move.origin_mm.x != 0 || move.origin_mm.y != 0 || move.origin_mm.z != 0)
      refuse("G92 has shifted X, Y or Z", "slice without it");
    if (std::abs(move.end_mm.z - move.start_mm.z) > same_z_mm)
      refuse("a bead climbs here: there are no layers to take turns", "slice without spiral mode");
    double const low = std::min(move.start_mm.x, move.end_mm.x) - move.arc.radius_mm;
    double const high = std::max(move.start_mm.x, move.end_mm.x) + move.arc.radius_mm;
    part_.x_from_mm = printed_ ? std::min(part_.x_from_mm, low) : low;
    part_.x_to_mm = printed_ ? std::max(part_.x_to_mm, high) : high;
    printed_ = true;
  }

  // A layer begins at the first change of Z behind the last bead of the one below; the first at
  // the last change of Z before its first bead.
  void find_layers() {
    double z = -1;
    for (std::size_t i = 0; i < part_.lines.size(); ++i) {
      auto const& move = part_.lines[i].move;
      if (!move || move->kind != gcode::MoveKind::print) continue;
      double const here = move->end_mm.z;
      if (part_.layers.empty() || std::abs(here - z) > same_z_mm) {
        if (!part_.layers.empty() && here < z)
          throw Error("the part goes down again here: objects one after another take no turns",
                      {.file = source_.name(), .line = static_cast<std::int64_t>(i) + 1},
                      "slice layer by layer");
        begin_layer(i);
        z = here;
      }
      part_.layers.back().last_print = i;
    }
    if (part_.layers.empty())
      throw Error("the file extrudes nothing while the head moves", {.file = source_.name()}, "");
    part_.layers.back().end = part_.layers.back().last_print + 1;
  }
  void begin_layer(std::size_t first_print) {
    auto const climbs = [&](std::size_t i) {
      auto const& move = part_.lines[i].move;
      return move && std::abs(move->end_mm.z - move->start_mm.z) > same_z_mm;
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

  gcode::LineSource source_;
  gcode::Interpreter interpreter_;
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
