// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <random>

#include "feed_writer.hpp"
#include "meltlag/testpiece/feed.hpp"
#include "meltlag/testpiece/program_frame.hpp"

namespace meltlag::testpiece {
namespace {

std::vector<double> cup_order(FeedOptions const& options) {
  std::mt19937 random(options.seed);
  std::vector<double> order;
  for (int round = 0; round < *options.cups_per_flow; ++round) {
    std::vector<double> flows = options.flows_mm3_s;
    if (round > 0) shuffle(flows, random);
    order.insert(order.end(), flows.begin(), flows.end());
  }
  return order;
}

void write_head(FeedOptions const& options, std::size_t cups, FeedWriter& writer) {
  writer.comment("Feed test: the screw turns into cups that are weighed.");
  writer.text(feed_cautions());
  writer.comment("How it goes");
  writer.comment("- Weigh each cup empty, or set the scale to zero with it. Number the cups.");
  writer.comment("- Before each cup the screw runs into a waste cup, stops, and drips off.");
  writer.comment(options.swap == CupSwap::pause
                     ? "- At each pause do what the display says, cut the strand, press the button."
                     : "- At each beep do what the display says and cut the strand; a second beep "
                       "ends the time for it.");
  writer.comment("- Weigh what is in each cup; write the grams after its number in the sheet.");
  writer.comment(
      "- Flows rise to more than the screw feeds. Stop the print where its motor clicks or");
  writer.comment("  stalls, let the machine cool, and begin again with lower --flows.");
  writer.comment(
      fmt::format("- {} cups. Keep the hopper as full as you would while printing.", cups));
  writer.text("\n");
}

void write_start(FeedOptions const& options, FeedWriter& writer) {
  motion::PerAxis const& fastest = options.limits.max_speed_mm_s;
  writer.text(options.start_code ? whole_lines(*options.start_code)
                                 : plain_start(options.nozzle_c, 0));
  writer.text(common_modes());
  writer.comment("Up, then over to where the cups stand");
  writer.text(fmt::format("G0 Z{:g} F{:g}\n",
                          options.park_z_mm,
                          60 * std::min({options.travel_mm_s, 10.0, fastest[2]})));
  writer.text(fmt::format("G0 X{:g} Y{:g} F{:g}\n",
                          options.park_x_mm,
                          options.park_y_mm,
                          60 * std::min({options.travel_mm_s, fastest[0], fastest[1]})));
}

void write_priming(FeedOptions const& options, FeedWriter& writer) {
  writer.announce("Waste cup under");
  writer.hand_over();
  writer.comment("fill the nozzle");
  if (options.prime_s > 0)
    writer.run(options.flows_mm3_s[options.flows_mm3_s.size() / 2], options.prime_s);
  writer.wait(options.drip_s);
}

void write_cup(FeedOptions const& options, Cup& cup, std::size_t cups, FeedWriter& writer) {
  writer.text("\n");
  writer.comment(fmt::format("cup {} of {}: {:g} mm³/s", cup.number, cups, cup.flow_mm3_s));
  writer.announce(fmt::format("Settling for cup {}", cup.number));
  if (options.settle_s > 0) writer.run(cup.flow_mm3_s, options.settle_s);
  writer.wait(options.drip_s);
  writer.announce(fmt::format("Put cup {} under", cup.number));
  writer.hand_over();
  cup.commanded_mm3 = writer.run(cup.flow_mm3_s, cup.seconds);
  writer.wait(options.drip_s);
  writer.announce(fmt::format("Cup {} out, waste in", cup.number));
  writer.hand_over();
}

std::vector<std::string> remarks(FeedOptions const& options, FeedProgram const& program) {
  std::vector<std::string> remarks;
  if (!program.bursts.empty())
    remarks.push_back(
        fmt::format("Forward bursts rise to {:.0f} mm³/s unless you stop the print at the first "
                    "fault; a lower end is safer where you know one.",
                    program.bursts.back().flow_mm3_s));
  if (!program.store_cups.empty())
    remarks.push_back(fmt::format(
        "The cups of bursts should tell the melt that stands ready to ± {:.2g} mm³, on a "
        "scale that resolves {:g} g.",
        program.store_plus_minus_mm3,
        options.scale_g));
  else if (!program.bursts.empty())
    remarks.push_back(
        options.max_flow_mm3_s
            ? "With --store-sheet FILE cups of bursts tell the melt that stands ready for one."
            : "Measure max_flow_mm3_s with the cups first: then --store-sheet FILE tells the melt "
              "that stands ready for a burst.");
  if (!options.density_g_cm3 || program.cups.empty()) return remarks;
  double const lightest_g =
      options.flows_mm3_s.front() * options.cup_s * *options.density_g_cm3 / 1000;
  double const step = options.scale_g / lightest_g;
  if (step > 0.01)
    remarks.push_back(
        fmt::format("Cups at {:g} mm³/s hold about {:.2g} g; a step of {:g} g of the scale is "
                    "{:.1f} % of that: "
                    "run longer, or take a finer scale.",
                    options.flows_mm3_s.front(),
                    lightest_g,
                    options.scale_g,
                    100 * step));
  return remarks;
}

}  // namespace

FeedProgram make_feed_program(FeedOptions const& given, StorePlan const& store) {
  FeedOptions const options = checked(given);
  assert((options.store_cups == StoreCups::rising) == !store.cups.empty());
  std::vector<double> const order = cup_order(options);
  FeedProgram program;
  FeedWriter writer(options);
  write_head(options, order.size() + store.cups.size(), writer);
  write_start(options, writer);
  write_priming(options, writer);
  for (double const flow : order) {
    program.cups.push_back({.number = static_cast<int>(program.cups.size()) + 1,
                            .flow_mm3_s = flow,
                            .seconds = options.cup_s});
    write_cup(options, program.cups.back(), order.size(), writer);
  }
  if (options.store_cups == StoreCups::rising) write_store_cups(options, store, writer, program);
  if (options.bursts == Bursts::rising) write_bursts(options, writer, program);
  writer.text("\n");
  writer.text(options.end_code ? whole_lines(*options.end_code) : plain_end());
  program.planned_s = writer.seconds();
  program.plastic_mm3 = writer.plastic_mm3();
  program.gcode = writer.take();
  program.remarks = remarks(options, program);
  return program;
}

// Few digits: a spreadsheet that expects decimal commas reads 180.000 as 180 thousand.
std::string cup_sheet(FeedProgram const& program) {
  std::string sheet = "cup,flow_mm3_s,commanded_mm3,seconds,mass_g,note\n";
  for (Cup const& cup : program.cups)
    sheet += fmt::format(
        "{},{:g},{:.5g},{:g},,\n", cup.number, cup.flow_mm3_s, cup.commanded_mm3, cup.seconds);
  return sheet;
}

std::string burst_sheet(FeedProgram const& program) {
  std::string sheet = "burst,direction,flow_mm3_s,e_mm_s,result,note\n";
  for (Burst const& burst : program.bursts)
    sheet += fmt::format("{},{},{:.4g},{:.4g},,\n",
                         burst.number,
                         burst.direction == Direction::forward ? "forward" : "reverse",
                         burst.flow_mm3_s,
                         burst.e_mm_s);
  return sheet;
}

}  // namespace meltlag::testpiece
