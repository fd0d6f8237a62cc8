// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>

#include "feed_writer.hpp"

namespace meltlag::testpiece {
namespace {

double rise_mm3_s2(FeedOptions const& options, double area_mm2) {
  motion::Limits const& limits = options.limits;
  return area_mm2 *
         std::min(limits.max_acceleration_mm_s2[motion::axis_e], limits.retract_acceleration_mm_s2);
}

// The slow flow fills the store, a burst draws on it; the screw does not stop in between.
double write_cycles(StoreCup const& cup, double settle_s, FeedWriter& writer) {
  double volume = 0;
  for (int i = 0; i < cup.bursts; ++i) {
    volume += writer.run(cup.flow_mm3_s, settle_s);
    if (cup.burst_s > 0)
      volume += writer.turn(burst_volume_mm3(cup) / writer.area_mm2(),
                            writer.e_speed_mm_s(cup.burst_mm3_s));
  }
  return volume;
}

void write_cup(FeedOptions const& options,
               StorePlan const& plan,
               StoreCup& cup,
               FeedWriter& writer) {
  writer.text("\n");
  writer.comment(fmt::format("burst cup {} of {}: {} times {:.3g} s at {:.3g} mm³/s",
                             cup.number,
                             plan.cups.size(),
                             cup.bursts,
                             cup.burst_s,
                             cup.burst_mm3_s));
  writer.announce(fmt::format("Settling for burst cup {}", cup.number));
  if (options.settle_s > 0) writer.run(cup.flow_mm3_s, options.settle_s);
  writer.wait(options.drip_s);
  writer.announce(fmt::format("Put burst cup {} under", cup.number));
  writer.hand_over();
  cup.commanded_mm3 = write_cycles(cup, plan.settle_s, writer);
  writer.wait(options.drip_s);
  writer.announce(fmt::format("Burst cup {} out, waste in", cup.number));
  writer.hand_over();
}

}  // namespace

double burst_volume_mm3(StoreCup const& cup) {
  if (cup.burst_s <= 0) return 0;
  double const step = cup.burst_mm3_s - cup.flow_mm3_s, both = cup.burst_mm3_s + cup.flow_mm3_s;
  return cup.burst_mm3_s * cup.burst_s + step * both / cup.rise_mm3_s2;
}

StorePlanOptions store_plan_options(FeedOptions const& given) {
  FeedOptions const options = checked(given);
  double const area_mm2 = FeedWriter(options).area_mm2();
  StorePlanOptions plan{.known = options.known,
                        .rise_mm3_s2 = rise_mm3_s2(options, area_mm2),
                        .most_mm3_s = options.limits.max_speed_mm_s[motion::axis_e] * area_mm2,
                        .density_g_cm3 = options.density_g_cm3.value_or(1),
                        .scale_g = options.scale_g,
                        .bursts_per_cup = options.bursts_per_cup};
  if (options.burst_to_mm3_s) plan.most_mm3_s = std::min(*plan.most_mm3_s, *options.burst_to_mm3_s);
  return plan;
}

void write_store_cups(FeedOptions const& options,
                      StorePlan const& plan,
                      FeedWriter& writer,
                      FeedProgram& program) {
  writer.text("\n");
  writer.comment(
      "Cups of bursts: short and fast turns out of a slow steady flow, and cups of none.");
  writer.comment("Stop the print where the motor clicks or stalls, and begin again with a lower");
  writer.comment("--burst-to.");
  std::mt19937 random(options.seed);
  std::vector<StoreCup> cups = plan.cups;
  auto const longer = [](StoreCup const& a, StoreCup const& b) { return a.burst_s < b.burst_s; };
  std::stable_sort(cups.begin(), cups.end(), longer);
  // Rounds of every length once; the first rises.
  std::size_t const rounds = static_cast<std::size_t>(
      std::ranges::count_if(cups, [](StoreCup const& cup) { return cup.burst_s == 0; }));
  std::vector<StoreCup> order;
  for (std::size_t round = 0; round < rounds; ++round) {
    std::vector<StoreCup> some;
    for (std::size_t i = round; i < cups.size(); i += rounds) some.push_back(cups[i]);
    if (round > 0) shuffle(some, random);
    order.insert(order.end(), some.begin(), some.end());
  }
  for (StoreCup& cup : order) {
    cup.number = static_cast<int>(program.store_cups.size()) + 1;
    write_cup(options, plan, cup, writer);
    program.store_cups.push_back(cup);
  }
  program.store_plus_minus_mm3 = plan.plus_minus_mm3;
}

std::string store_sheet(FeedProgram const& program) {
  std::string sheet =
      "cup,bursts,flow_mm3_s,burst_mm3_s,burst_s,rise_mm3_s2,commanded_mm3,mass_g,note\n";
  for (StoreCup const& cup : program.store_cups)
    sheet += fmt::format("{},{},{:.5g},{:.5g},{:.5g},{:.5g},{:.6g},,\n",
                         cup.number,
                         cup.bursts,
                         cup.flow_mm3_s,
                         cup.burst_mm3_s,
                         cup.burst_s,
                         cup.rise_mm3_s2,
                         cup.commanded_mm3);
  return sheet;
}

}  // namespace meltlag::testpiece
