// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/feed.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using fit::ScrewLimits;
using fit::StoreLevel;
using fit::StoreVerdict;
using nlohmann::json;

json burst_json(std::optional<double> const& value) { return value ? json(*value) : json(); }

std::string store_headline(StoreVerdict const& v) {
  switch (v.level) {
    case StoreLevel::told:
      return fmt::format(
          "Stands ready for a burst: {:.2f} mm³ (95 % of chances: {:.2f} to {:.2f})\n",
          v.burst_mm3,
          v.low_mm3,
          v.high_mm3);
    case StoreLevel::none_seen:
      return fmt::format("Stands ready for a burst: no more than {:.2f} mm³, perhaps nothing\n",
                         v.high_mm3);
    case StoreLevel::at_least:
      return fmt::format("Stands ready for a burst: at least {:.2f} mm³\n", v.low_mm3);
    case StoreLevel::cannot_tell:
      break;
  }
  std::string const high =
      std::isinf(v.high_mm3) ? std::string("no end") : fmt::format("{:.2f} mm³", v.high_mm3);
  return fmt::format(
      "Stands ready for a burst: cannot tell, from {:.2f} mm³ to {}\n", v.low_mm3, high);
}

}  // namespace

std::string to_text(ScrewLimits const& limits) {
  std::string text = "Screw limits\n";
  auto const told = [](std::optional<double> const& value, char const* unit) {
    return value ? fmt::format("{:.3g} {}", *value, unit) : std::string("none");
  };
  text += fmt::format("  forward  passed {}, failed {}\n",
                      told(limits.passed_forward_mm3_s, "mm³/s"),
                      told(limits.failed_forward_mm3_s, "mm³/s"));
  text += fmt::format("  reverse  passed {}, failed {}\n",
                      told(limits.passed_reverse_mm_s, "mm/s of E"),
                      told(limits.failed_reverse_mm_s, "mm/s of E"));
  if (limits.max_burst_mm3_s)
    text += fmt::format("  bursts   up to {:.3g} mm³/s, delivered\n", *limits.max_burst_mm3_s);
  if (limits.max_e_mm_s)
    text +=
        fmt::format("  keep to  {:.3g} mm/s of E, 10 % below what passed\n", *limits.max_e_mm_s);
  return text + item_list(limits.remarks);
}

json to_json(ScrewLimits const& limits) {
  return {{"passed_forward_mm3_s", burst_json(limits.passed_forward_mm3_s)},
          {"failed_forward_mm3_s", burst_json(limits.failed_forward_mm3_s)},
          {"passed_reverse_mm_s", burst_json(limits.passed_reverse_mm_s)},
          {"failed_reverse_mm_s", burst_json(limits.failed_reverse_mm_s)},
          {"max_burst_mm3_s", burst_json(limits.max_burst_mm3_s)},
          {"max_burst_sd_mm3_s", burst_json(limits.max_burst_sd_mm3_s)},
          {"max_e_mm_s", burst_json(limits.max_e_mm_s)},
          {"remarks", limits.remarks}};
}

std::string to_text(StoreVerdict const& v) {
  std::string text = store_headline(v);
  text += fmt::format(
      "{} cups of bursts and of none, which scatter by {:.1f} % beside the scale's "
      "steps\n",
      v.cups,
      100 * v.scatter);
  if (v.level == StoreLevel::at_least)
    text += list_item("The longest bursts may not have emptied it: it may hold more.");
  if (v.level == StoreLevel::cannot_tell)
    text +=
        list_item(fmt::format("A useful answer is within ± {} mm³. Weigh more bursts in each cup "
                              "(--bursts), on a finer scale, and see that the feed is even.",
                              fit::useful_store_mm3));
  if (v.level == StoreLevel::none_seen)
    text +=
        list_item("A schedule relies on what is left after twice the deviation: next to nothing.");
  return text;
}

json to_json(StoreVerdict const& v) {
  constexpr char const* levels[] = {"told", "none seen", "at least", "cannot tell"};
  return {{"level", levels[static_cast<std::size_t>(v.level)]},
          {"cups", v.cups},
          {"burst_mm3", v.burst_mm3},
          {"low_mm3", v.low_mm3},
          {"high_mm3", std::isinf(v.high_mm3) ? json() : json(v.high_mm3)},
          {"sd_mm3", v.sd_mm3},
          {"scatter", v.scatter},
          {"max_flow_mm3_s", v.max_flow_mm3_s},
          {"delivered_factor", v.delivered_factor},
          {"longest_excess_mm3", v.longest_excess_mm3}};
}

}  // namespace meltlag::report
