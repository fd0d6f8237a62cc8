// SPDX-License-Identifier: MIT
#include "progress.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "meltlag/base/system.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"

namespace meltlag::cli {
namespace {

using namespace std::chrono_literals;

constexpr auto patience = 2s;  // nothing is shown before
constexpr auto redraw_every = 200ms;
constexpr auto line_every = 10s;
constexpr std::size_t most_columns = 79, bar_columns = 24;
// The rest of the time is not guessed from less.
constexpr double least_share = 0.02, least_s = 1;

ProgressDisplay* display = nullptr;

double seconds(std::chrono::steady_clock::duration time) {
  return std::chrono::duration<double>(time).count();
}

std::string rest(Progress const& progress, std::optional<double> left_s) {
  if (!left_s) return {};
  constexpr double minute_s = 60;
  double const s = std::max(1.0, std::round(*left_s));
  return ", about " + (s < minute_s ? fmt::format("{:.0f} s", s) : report::duration(s)) +
         (progress.of_whole ? " left" : " left of this trial");
}

std::string percent_done(double share) {
  return fmt::format("{:3.0f} %", std::floor(100 * std::clamp(share, 0.0, 1.0)));
}

}  // namespace

std::string bar_line(Progress const& progress, std::optional<double> left_s) {
  auto const full = static_cast<std::size_t>(std::clamp(progress.share, 0.0, 1.0) * bar_columns);
  std::string const front = "[" + std::string(full, '#') + std::string(bar_columns - full, '.') +
                            "] " + percent_done(progress.share) + "  ";
  std::string const behind = rest(progress, left_s);
  std::size_t const room = most_columns - front.size() - behind.size();
  return front + report::cut_to(progress.doing, room) + behind;
}

std::string log_line(Progress const& progress, std::optional<double> left_s) {
  std::string const done = percent_done(progress.share);
  return progress.doing + ": " + done.substr(done.find_first_not_of(' ')) + " done" +
         rest(progress, left_s);
}

ProgressDisplay::ProgressDisplay()
    : where_(system::stderr_is_terminal() ? Where::terminal : Where::log),
      next_(begun_ +
            (where_ == Where::terminal ? Clock::duration(patience) : Clock::duration(line_every))),
      part_begun_(begun_) {
  display = this;
}

ProgressDisplay::~ProgressDisplay() {
  clear();
  display = nullptr;
}

void ProgressDisplay::on_progress(Progress const& progress) {
  if (where_ == Where::nowhere) return;
  auto const now = Clock::now();
  constexpr double back = 0.05;  // two files that are read side by side are not one farther back
  if (progress.share < last_share_ - back) {  // another trial, or another part
    part_begun_ = now;
    part_from_ = last_share_ = progress.share;
  }
  last_share_ = std::max(last_share_, progress.share);
  if (now < next_) return;
  double const gone_s = seconds(now - part_begun_), done = last_share_ - part_from_;
  std::optional<double> left_s;
  if (done > least_share && gone_s > least_s) left_s = gone_s * (1 - last_share_) / done;
  Progress shown = progress;
  shown.share = last_share_;
  bool const bar = where_ == Where::terminal;
  next_ = now + (bar ? Clock::duration(redraw_every) : Clock::duration(line_every));
  if (bar) return show(bar_line(shown, left_s));
  log(log_line(shown, left_s));
}

void ProgressDisplay::show(std::string const& line) {
  std::size_t const columns = report::shown_width(line);
  std::size_t const rest = shown_columns_ > columns ? shown_columns_ - columns : 0;
  std::fprintf(stderr, "\r%s%s", line.c_str(), std::string(rest, ' ').c_str());
  std::fflush(stderr);
  shown_columns_ = columns;
}

void ProgressDisplay::clear() {
  if (shown_columns_ == 0) return;
  std::fprintf(stderr, "\r%s\r", std::string(shown_columns_, ' ').c_str());
  std::fflush(stderr);
  shown_columns_ = 0;
}

void clear_progress() {
  if (display != nullptr) display->clear();
}

void silence_progress() {
  if (display == nullptr) return;
  display->clear();
  display->where_ = ProgressDisplay::Where::nowhere;
}

}  // namespace meltlag::cli
