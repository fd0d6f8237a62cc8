// SPDX-License-Identifier: MIT
// The sample files adapted, judged by the slow reference.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include "adapt_sample.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

std::string sample(std::string const& name) {
  std::string text = text_of(std::string(MELTLAG_SOURCE_DIR) + "/samples/" + name);
  REQUIRE(!text.empty());
  return text;
}

struct Sample {
  char const* name;
  double most_share;  // of the misplaced plastic before, for a lag of 0.3 s and for a long one
};
// The foot hops over a hole in every row, in less time than the screw needs to fill up again.
constexpr Sample samples[] = {{"seed-tray-foot.gcode", 0.75},
                              {"cable-clip-arcs.gcode", 0.36},
                              {"numbered-absolute.gcode", 0.51}};

void check_sample(Sample const& file, melt::PlantParameters const& plant) {
  std::string const name = file.name;
  CAPTURE(name);
  std::string const original = sample(name);
  Adapted const adapted = adapt_text(original, options_for(plant));
  auto const truth = reference_plant(plant);
  auto const broken = broken_promises(original, adapted.text, plant);
  CHECK_MESSAGE(broken.empty(), all_of(broken));
  auto const before = meltlag_reference::judge(original, original, truth, {});
  auto const after = meltlag_reference::judge(original, adapted.text, truth, {});
  MESSAGE(fmt::format("{}, n {}: misplaced {:.2f} -> {:.2f} %",
                      name,
                      plant.law.flow_index,
                      before.misplaced_percent,
                      after.misplaced_percent));
  CHECK(after.misplaced_percent < file.most_share * before.misplaced_percent);
  CHECK(after.planned_s <= 1.0001 * before.planned_s);
  CHECK(adapted.info.lines_in == static_cast<std::int64_t>(lines_of(original).size()));
  CHECK(adapted.info.lines_out == static_cast<std::int64_t>(lines_of(adapted.text).size()));
}

// The sum that a serial link sends after '*': all bytes in front of it, exclusive-or (common
// practice, no source).
unsigned sum_of(std::string_view text) {
  unsigned sum = 0;
  for (char const c : text) sum ^= static_cast<unsigned char>(c);
  return sum;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("the samples come out better and keep every promise for a linear lag") {
    for (Sample const& file : samples) check_sample(file, plant_of(0.3, 1));
  }

  TEST_CASE("the samples come out better and keep every promise for a long power-law lag") {
    for (Sample const& file : samples) check_sample(file, plant_of(1, 0.5));
  }

  TEST_CASE("numbered lines come out consecutive with right sums and their own line breaks") {
    std::string const text =
        adapt_text(sample("numbered-absolute.gcode"), options_for(plant_of(0.3, 1))).text;
    long number = 0;
    for (std::string const& line : lines_of(text)) {
      if (line.empty() || line.front() != 'N') continue;
      CAPTURE(line);
      CHECK(std::atol(line.c_str() + 1) == ++number);
      std::size_t const star = line.rfind('*');
      REQUIRE(star != std::string::npos);
      CHECK(static_cast<unsigned>(std::atoi(line.c_str() + star + 1)) ==
            sum_of(std::string_view(line).substr(0, star)));
    }
    CHECK(number > 200);
    // All but the marker, which no printer reads.
    std::size_t bare = 0;
    for (std::size_t at = text.find('\n', text.find('\n') + 1); at != std::string::npos;
         at = text.find('\n', at + 1))
      if (text[at - 1] != '\r') ++bare;
    CHECK(bare == 0);
  }

  TEST_CASE("arcs stay arcs") {
    std::string const original = sample("cable-clip-arcs.gcode");
    std::string const text = adapt_text(original, options_for(plant_of(0.3, 1))).text;
    auto const count_turns = [](std::string const& all) {
      std::size_t turns = 0;
      for (std::string const& line : lines_of(all))
        turns += line.starts_with("G2 ") || line.starts_with("G3 ");
      return turns;
    };
    CHECK(count_turns(text) >= count_turns(original));
    CHECK(count_turns(original) > 50);
  }
}
