// SPDX-License-Identifier: MIT
#include "test_piece_writer.hpp"

#include <cmath>

#include "meltlag/gcode/format.hpp"
#include "meltlag/gcode/source.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr int place_decimals = 3, e_decimals = 5, feed_decimals = 3;

double rounded(double value, double steps_per_unit) {
  return std::round(value * steps_per_unit) / steps_per_unit;
}

void append_word(std::string& out, char letter, double value, int decimals) {
  out += ' ';
  out += letter;
  gcode::append_number(out, value, decimals);
}

}  // namespace

void Writer::text(std::string_view lines) {
  auto source = gcode::LineSource::from_text(lines, "start code");
  gcode::RawLine raw;
  while (source.next(raw)) ++line_;
  gcode_ += lines;
  if (raw.line_break.empty()) gcode_ += '\n';
}

void Writer::comment(std::string_view words) {
  gcode_ += "; ";
  gcode_ += words;
  gcode_ += '\n';
  ++line_;
}

// Writes what changes and returns the place as written.
Vec3 Writer::axes(Vec3 to) {
  to = {rounded(to.x, 1e3), rounded(to.y, 1e3), rounded(to.z, 1e3)};
  gcode_ += "G1";
  if (!known_ || to.x != at_.x) append_word(gcode_, 'X', to.x, place_decimals);
  if (!known_ || to.y != at_.y) append_word(gcode_, 'Y', to.y, place_decimals);
  if (!known_ || to.z != at_.z) append_word(gcode_, 'Z', to.z, place_decimals);
  return to;
}

std::int64_t Writer::finish(double speed_mm_s) {
  std::string feed;
  gcode::append_number(feed, speed_mm_s * 60, feed_decimals);
  if (feed != feed_) {
    gcode_ += " F" + feed;
    feed_ = feed;
  }
  gcode_ += '\n';
  return ++line_;
}

std::int64_t Writer::print(Vec3 to, double e_mm_per_mm, double speed_mm_s) {
  Vec3 const from = at_;
  at_ = axes(to);
  known_ = true;
  double const e_mm = rounded(norm(at_ - from) * e_mm_per_mm, 1e5);
  append_word(gcode_, 'E', e_mm, e_decimals);
  e_mm_ += e_mm;
  return finish(speed_mm_s);
}

std::int64_t Writer::go(Vec3 to, double speed_mm_s) {
  at_ = axes(to);
  known_ = true;
  return finish(speed_mm_s);
}

std::int64_t Writer::turn(double e_mm, double speed_e_mm_s) {
  gcode_ += "G1";
  append_word(gcode_, 'E', e_mm, e_decimals);
  e_mm_ += e_mm;
  return finish(speed_e_mm_s);
}

std::int64_t Writer::dwell(double seconds) {
  gcode_ += "G4 P";
  gcode::append_number(gcode_, std::round(seconds * 1000), 0);
  gcode_ += '\n';
  return ++line_;
}

void Writer::forget_place() {
  known_ = false;
  feed_.clear();
}

}  // namespace meltlag::testpiece::piece
