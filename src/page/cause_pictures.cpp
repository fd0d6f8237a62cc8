// SPDX-License-Identifier: MIT
#include "cause_pictures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "drawing.hpp"
#include "meltlag/report/build_json.hpp"
#include "meltlag/report/cause_names.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

std::string name_of(melt::Cause const& cause) { return report::cause_name(cause.kind, cause.name); }

// Lines and numbers of an axis along the bottom.
void draw_axis_across(Drawing& drawing, Scale const& scale, double bottom, std::string_view unit) {
  auto const ticks = scale.ticks();
  for (std::size_t i = 0; i < ticks.size(); ++i) {
    double const x = 100 * scale.share(ticks[i]);
    drawing.line({x, 0}, {x, bottom}, "line");
    Anchor const anchor = i == 0                  ? Anchor::start
                          : i + 1 == ticks.size() ? Anchor::end
                                                  : Anchor::middle;
    std::string const text = fmt::format("{:g}", ticks[i]);
    drawing.text({x, bottom + 15},
                 anchor,
                 i + 1 == ticks.size() ? fmt::format("{} {}", text, unit) : text,
                 "soft");
  }
}

class RunOnBars {
 public:
  RunOnBars(std::vector<RunOnBar> const& bars, CauseNames const& names)
      : bars_(bars), names_(names) {
    double most = 0;
    for (RunOnBar const& bar : bars) {
      melt::Uncertain const whole = whole_of(bar);
      most = std::max(most, whole.value + whole.sd);
    }
    scale_ = scale_to(1.01 * most, 5);
  }

  void write(Out const& out) const {
    double const bottom = row_px * static_cast<double>(bars_.size());
    Drawing drawing(out, "Run-on by cause, measured beside it", bottom + 22);
    draw_axis_across(drawing, scale_, bottom, "mm³");
    double y = 0;
    for (RunOnBar const& bar : bars_) {
      draw(drawing, bar, y);
      y += row_px;
    }
  }

 private:
  static constexpr double row_px = 64, bar_px = 20, bar_at = 20;

  static melt::Uncertain whole_of(RunOnBar const& bar) {
    return bar.causes ? bar.causes->run_on_mm3 : *bar.measured;
  }
  [[nodiscard]] double across(double mm3) const { return 100 * scale_.share(mm3); }

  void draw(Drawing& drawing, RunOnBar const& bar, double top) const {
    melt::Uncertain const whole = whole_of(bar);
    drawing.text({0, top + 14},
                 Anchor::start,
                 fmt::format("{}: {} mm³", bar.name, report::plus_minus(whole.value, whole.sd)));
    double const y = top + bar_at;
    if (bar.causes) {
      draw_stack(drawing, *bar.causes, y);
    } else {
      drawing.box({0, y}, {across(whole.value), bar_px}, "measured");
    }
    if (whole.sd > 0) {
      drawing.whisker_across(y + bar_px / 2,
                             across(std::max(0.0, whole.value - whole.sd)),
                             across(whole.value + whole.sd));
    }
  }

  void draw_stack(Drawing& drawing, melt::Causes const& causes, double y) const {
    constexpr double room_for_letter = 3.5;  // %
    double at = 0;
    for (std::size_t const i : largest_first(causes)) {
      melt::Cause const& cause = causes.causes[i];
      double const wide = std::max(0.0, across(cause.run_on_mm3.value));
      std::size_t const index = names_.index(cause);
      drawing.box({at, y}, {wide, bar_px}, share_colour(index));
      if (wide > room_for_letter) {
        drawing.text({at + wide / 2, y + bar_px + 14},
                     Anchor::middle,
                     std::string(1, report::letter(index)));
      }
      at += wide;
      drawing.line({at, y}, {at, y + bar_px}, "paper");
    }
    double const least = across(causes.parts.least_run_on_mm3);
    if (least < at - 0.1) drawing.line({least, y - 3}, {least, y + bar_px + 3}, "ink", "4 2");
  }

  std::vector<RunOnBar> const& bars_;
  CauseNames const& names_;
  Scale scale_{};
};

std::string class_edge(double s) {
  return s < 60 ? fmt::format("{:g} s", s) : fmt::format("{:g} min", s / 60);
}

// Where a time lies on the axis of classes, each as wide as the others: 0 … 8.
double place_of(double s) {
  auto const& edges = compare::residence_classes_s;
  auto const next = std::ranges::upper_bound(edges, s);
  if (next == edges.end()) return static_cast<double>(edges.size());
  auto const i = next - edges.begin();
  double const low = i == 0 ? 0 : edges[static_cast<std::size_t>(i - 1)];
  double const part = std::isinf(*next) ? 0.5 : (s - low) / (*next - low);
  return static_cast<double>(i) + part;
}

void draw_points(Drawing& drawing,
                 std::vector<double> const& values,
                 Scale const& scale,
                 double y,
                 char const* colour) {
  compare::Sample const sample = compare::sample_of(values);
  auto const across = [&](double v) { return 100 * scale.share(v); };
  for (double const value : values) drawing.dot({across(value), y}, colour);
  if (values.empty()) return;
  double const below = y + 12;
  drawing.line({across(sample.mean), below - 6}, {across(sample.mean), below + 6}, colour);
  if (sample.sd > 0)
    drawing.whisker_across(
        below, across(std::max(0.0, sample.mean - sample.sd)), across(sample.mean + sample.sd));
}

}  // namespace

void CauseNames::add(melt::Causes const& causes) {
  for (std::size_t const i : largest_first(causes)) {
    std::string const name = name_of(causes.causes[i]);
    if (std::ranges::find(names_, name) == names_.end()) names_.push_back(name);
  }
}

std::size_t CauseNames::index(melt::Cause const& cause) const {
  return static_cast<std::size_t>(std::ranges::find(names_, name_of(cause)) - names_.begin());
}

std::vector<std::size_t> largest_first(melt::Causes const& causes) {
  std::vector<std::size_t> order(causes.causes.size());
  std::iota(order.begin(), order.end(), 0);
  std::ranges::stable_sort(
      order, std::greater<>{}, [&](std::size_t i) { return causes.causes[i].share.value; });
  return order;
}

void write_run_on_bars(Out const& out, std::vector<RunOnBar> const& bars, CauseNames const& names) {
  RunOnBars(bars, names).write(out);
}

void write_residence_histogram(Out const& out, report::ResidencePage const& page) {
  constexpr double top = 22, bottom = 180, left = 11, right = 99;
  compare::PrintResidence const& print = *page.print;
  double most = 0;
  for (double const mm3 : print.histogram_mm3) most = std::max(most, mm3 / print.out_mm3);
  Scale const scale = scale_to(100 * most, 4);
  std::size_t const count = print.histogram_mm3.size();
  double const wide = (right - left) / static_cast<double>(count);
  auto const height = [&](double percent) {
    return bottom - (bottom - top) * scale.share(percent);
  };
  Drawing drawing(out, "How long the plastic of the print was hot", bottom + 36);
  for (double const tick : scale.ticks()) {
    drawing.line({left, height(tick)}, {right, height(tick)}, "line");
    drawing.text({left - 1, height(tick) + 4}, Anchor::end, fmt::format("{:g} %", tick), "soft");
  }
  double const limit = page.longest_residence_s ? place_of(*page.longest_residence_s) : 1e9;
  for (std::size_t i = 0; i < count; ++i) {
    double const percent = 100 * print.histogram_mm3[i] / print.out_mm3;
    auto const at = static_cast<double>(i);
    drawing.box({left + wide * (at + 0.06), height(percent)},
                {wide * 0.88, bottom - height(percent)},
                at >= limit ? "thick" : "share-0");
    if (i + 1 < count)
      drawing.text({left + wide * (at + 1), bottom + 15},
                   Anchor::middle,
                   fmt::format("{:g}", compare::residence_classes_s[i] / 60),
                   "soft");
  }
  drawing.text({(left + right) / 2, bottom + 32}, Anchor::middle, "minutes hot", "soft");
  if (!page.longest_residence_s) return;
  double const x = left + wide * limit;
  drawing.line({x, top - 4}, {x, bottom}, "mark", "5 3");
  drawing.text({std::min(x, right), top - 9},
               limit > 5 ? Anchor::end : Anchor::start,
               fmt::format("longest_residence_s, {}", class_edge(*page.longest_residence_s)));
}

void write_print_points(Out const& out, report::AgainstPage const& page) {
  constexpr double old_at = 18, new_at = 54, bottom = 76;
  out("<div class=\"panels\">\n");
  for (report::NamedComparison const& row : report::named(page.prints)) {
    auto const& before = page.old_build.prints.*row.values;
    auto const& after = page.new_build.prints.*row.values;
    double most = 0;
    for (auto const* values : {&before, &after}) {
      compare::Sample const sample = compare::sample_of(*values);
      for (double const value : *values) most = std::max({most, value, sample.mean + sample.sd});
    }
    if (!(most > 0)) continue;
    Scale const scale = scale_to(1.02 * most, 4);
    out(fmt::format("<figure><figcaption>{}, {}: {}</figcaption>\n",
                    row.name,
                    row.unit,
                    report::in_words(row.comparison->verdict)));
    {
      Drawing drawing(
          out, fmt::format("{} of single prints on both builds", row.name), bottom + 20);
      draw_axis_across(drawing, scale, bottom, row.unit);
      draw_points(drawing, before, scale, old_at, "before");
      draw_points(drawing, after, scale, new_at, "after");
    }
    out("</figure>\n");
  }
  out("</div>\n");
  write_keys(out,
             {{"before", "old build, a point for each print"},
              {"after", "new build; beneath, mean and scatter (± one deviation)"}});
}

}  // namespace meltlag::page
