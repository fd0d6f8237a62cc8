// SPDX-License-Identifier: MIT
#include "meltlag/adapt/side_by_side.hpp"

#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/format.hpp"
#include "part_layers.hpp"

namespace meltlag::adapt {
namespace {

constexpr int place_decimals = 3, e_decimals = 5;
constexpr double nothing_mm = 1e-6;
constexpr double usual_travel_feed = 6000;  // mm/min, where the file never travels

class JobWriter {
 public:
  JobWriter(Part const& part, SideBySideJob& job) : part_(part), job_(job) {}

  void write() {
    std::size_t const header_end = part_.layers.front().begin;
    for (std::size_t i = 0; i < header_end; ++i) copy_line(i, judge::Copy::none, 0);
    debt_mm_ = header_end > 0 ? part_.lines[header_end - 1].debt_mm : 0;
    for (std::size_t k = 0; k < part_.layers.size(); ++k) {
      bool const left_first = k % 2 == 0;
      layer(k, left_first ? judge::Copy::left : judge::Copy::right, Turn::first);
      layer(k, left_first ? judge::Copy::right : judge::Copy::left, Turn::second);
    }
    copy_ = judge::Copy::none;
    for (std::size_t i = part_.layers.back().end; i < part_.lines.size(); ++i)
      copy_line(i, judge::Copy::none, 0);
    close_range();
  }

 private:
  enum class Turn : std::uint8_t { first, second };

  void layer(std::size_t k, judge::Copy copy, Turn turn) {
    PartLayer const& layer = part_.layers[k];
    layer_ = static_cast<std::int32_t>(k) + 1;
    copy_ = copy;
    restore(layer.begin);
    for (std::size_t i = layer.begin; i < layer.end; ++i) {
      PartLine const& line = part_.lines[i];
      bool const once =
          !line.is_motion && !line.sets_mode && !line.text.empty() && line.text.front() != ';';
      if (once && turn == Turn::second) continue;
      copy_line(i, copy, layer_);
      keep(copy == judge::Copy::left || i < layer.first_print || i > layer.last_print
               ? stays(copy, line)
               : Keep::no);
    }
    debt_mm_ = part_.lines[layer.end - 1].debt_mm;
  }

  enum class Keep : std::uint8_t { no, yes };
  // On the way to the right copy the screw may build up; its E-only lines stay.
  static Keep stays(judge::Copy copy, PartLine const& line) {
    bool const turns_alone = line.move && line.move->kind == gcode::MoveKind::e_only;
    return copy == judge::Copy::left || turns_alone ? Keep::yes : Keep::no;
  }

  // Brings head, feed, E register and retract to where line `begin` expects them.
  void restore(std::size_t begin) {
    gcode::Move const* next = nullptr;
    for (std::size_t i = begin; next == nullptr; ++i)
      if (part_.lines[i].move) next = &*part_.lines[i].move;
    double const debt = begin > 0 ? part_.lines[begin - 1].debt_mm : 0;
    bool const absolute_e = !next->write.e_relative;
    std::string const feed = part_.fastest_feed_word > 0 ? number(part_.fastest_feed_word, 3)
                                                         : number(usual_travel_feed, 0);
    if (debt > debt_mm_ + nothing_mm) turn_screw(debt_mm_ - debt, absolute_e);
    std::string go = "G0 X" + number(next->start_mm.x + shift(), place_decimals) + " Y" +
                     number(next->start_mm.y, place_decimals) + " F" + feed;
    put(go);
    keep(copy_ == judge::Copy::left ? Keep::yes : Keep::no);
    if (debt < debt_mm_ - nothing_mm) turn_screw(debt_mm_ - debt, absolute_e);
    if (absolute_e) put("G92 E" + number(next->write.e_word_start, e_decimals));
    double const before = next->feed_written ? 0 : next->feed_word;
    if (before > 0) put("G1 F" + number(before, 3));
  }
  void turn_screw(double e_mm, bool absolute_e) {
    if (absolute_e) put("G92 E0");
    put("G1 E" + number(e_mm, e_decimals) + " F1800");
    keep(Keep::yes);
  }

  void copy_line(std::size_t i, judge::Copy copy, std::int32_t layer) {
    PartLine const& line = part_.lines[i];
    add(copy == judge::Copy::right && line.is_motion ? shifted(line.text) : line.text,
        {copy, layer, static_cast<std::int64_t>(i) + 1});
  }
  void put(std::string const& text) { add(text, {copy_, layer_, 0}); }
  void add(std::string const& text, judge::JobLine const& from) {
    job_.text += text;
    job_.text += '\n';
    job_.lines.push_back(from);
  }

  // The line with its X words moved to the right copy's place.
  [[nodiscard]] std::string shifted(std::string const& text) {
    gcode::read_block(text, block_);
    std::string out;
    std::size_t done = 0;
    for (gcode::Word const& word : block_.words) {
      if (word.letter != 'X' || !word.has_value) continue;
      out.append(text, done, word.begin - done);
      out += 'X';
      int const decimals = std::max(place_decimals, gcode::decimals_of(block_, word));
      gcode::append_number(out, word.value + job_.offset_mm, decimals);
      done = word.end;
    }
    return out.append(text, done);
  }
  [[nodiscard]] double shift() const { return copy_ == judge::Copy::right ? job_.offset_mm : 0; }
  static std::string number(double value, int decimals) {
    std::string out;
    gcode::append_number(out, value, decimals);
    return out;
  }

  // Says of the last line whether it keeps its E, but for the flow.
  void keep(Keep keep) {
    if (keep == Keep::no) return;
    auto const line = static_cast<std::int64_t>(job_.lines.size());
    if (range_ && range_->last < line - 1) close_range();
    if (!range_) range_ = LineRange{line, line};
    range_->last = line;
  }
  void close_range() {
    if (range_) job_.flow_alone.push_back(*range_);
    range_.reset();
  }

  Part const& part_;
  SideBySideJob& job_;
  gcode::Block block_;
  judge::Copy copy_ = judge::Copy::none;
  std::int32_t layer_ = 0;
  double debt_mm_ = 0;
  std::optional<LineRange> range_;
};

// The second copy stands to the right.
void place(Part const& part,
           std::string const& path,
           SideBySideOptions const& options,
           SideBySideJob& job) {
  job.offset_mm = std::ceil(part.x_to_mm - part.x_from_mm + options.gap_mm);
  job.x_from_mm = part.x_from_mm;
  job.x_to_mm = part.x_to_mm + job.offset_mm;
  if (options.bed_x_mm <= 0 || (job.x_from_mm >= 0 && job.x_to_mm <= options.bed_x_mm)) return;
  double const width = job.x_to_mm - job.x_from_mm;
  std::string const reach = std::to_string(std::lround(std::ceil(job.x_to_mm)));
  bool const fits = width <= options.bed_x_mm;
  throw Error("both parts reach to X " + reach + " mm, beyond the bed",
              {.file = path},
              fits ? "move the part to the left of the bed in the slicer; there is room for both"
                   : "take a smaller part");
}

}  // namespace

SideBySideJob side_by_side(std::string const& path,
                           SideBySideOptions const& options,
                           Notices& notices) {
  Part const part = read_part(path, options, notices);
  SideBySideJob job;
  job.left_flow_share = 1 / options.delivered_factor;
  job.layers = static_cast<std::int32_t>(part.layers.size());
  place(part, path, options, job);
  JobWriter(part, job).write();
  return job;
}

}  // namespace meltlag::adapt
