// SPDX-License-Identifier: MIT
#include "part_layers.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "meltlag/gcode/purge.hpp"
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
    gcode::LayerCounter layers;
    double z = -1;
    for (std::size_t i = 0; i < part_.lines.size(); ++i) {
      auto const& move = part_.lines[i].move;
      if (!move || move->kind != gcode::MoveKind::print) continue;
      double const here = move->end_mm.z;
      if (layers.take(*move)) {
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

  // What is purged onto the bed before the part is no layer of it.
  void set_purge_apart() {
    gcode::PurgeLineFinder finder;
    for (PartLine const& line : part_.lines)
      if (line.move) finder.take(*line.move);
    gcode::BeadBox const box = finder.part();
    part_.x_from_mm = box.low_x_mm;
    part_.x_to_mm = box.high_x_mm;
    auto const behind = static_cast<std::size_t>(finder.purge_line().last_line);
    if (behind == 0) return;
    if (behind > part_.layers.front().last_print) part_.layers.erase(part_.layers.begin());
    PartLayer& first = part_.layers.front();
    first.begin = std::max(first.begin, behind);
    first.first_print = std::max(first.first_print, behind);
    while (!is_print(part_.lines[first.first_print])) ++first.first_print;
  }

  static bool is_print(PartLine const& line) {
    return line.move && line.move->kind == gcode::MoveKind::print;
  }

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
