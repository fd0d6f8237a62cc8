// SPDX-License-Identifier: MIT
#include "meltlag/page/html.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include "meltlag/page/html_blocks.hpp"
#include "meltlag/page/html_data.hpp"
#include "support/near.hpp"

using namespace meltlag::page;
using namespace meltlag::report;

namespace {

// A slow reader of what the page's script reads.
std::vector<std::uint8_t> bytes_of(std::string const& base64) {
  std::string const digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::vector<std::uint8_t> out;
  unsigned bits = 0;
  int count = 0;
  for (char const c : base64) {
    if (c == '=') break;
    bits = bits << 6 | static_cast<unsigned>(digits.find(c));
    count += 6;
    if (count < 8) continue;
    count -= 8;
    out.push_back(static_cast<std::uint8_t>(bits >> count & 255));
  }
  return out;
}

std::string content(std::string const& element) {
  auto const begin = element.find('>') + 1;
  return element.substr(begin, element.find("</script>") - begin);
}

std::vector<double> column_of(std::string const& element, double unit) {
  std::vector<double> out;
  std::uint64_t rest = 0;
  int shift = 0;
  std::int64_t now = 0;
  for (std::uint8_t const byte : bytes_of(content(element))) {
    rest |= static_cast<std::uint64_t>(byte & 127) << shift;
    shift += 7;
    if (byte > 127) continue;
    now += static_cast<std::int64_t>(rest >> 1) ^ -static_cast<std::int64_t>(rest & 1);
    out.push_back(static_cast<double>(now) * unit);
    rest = 0;
    shift = 0;
  }
  return out;
}

}  // namespace

TEST_SUITE("page") {
  TEST_CASE("text of a page is never read as HTML") {
    CHECK(escape_html("<b a=\"1\">&'") == "&lt;b a=&quot;1&quot;&gt;&amp;&#39;");
    CHECK(escape_html("12 mm³ → 3") == "12 mm³ → 3");
    CHECK(escape_html("a\xff\xc3"
                      "b\x80") ==
          "a\xEF\xBF\xBD\xEF\xBF\xBD"
          "b\xEF\xBF\xBD");
    CHECK(escape_html(std::string("a\0b", 3)) ==
          "a\xEF\xBF\xBD"
          "b");
  }

  TEST_CASE("base64 agrees with the examples of RFC 4648, section 10") {
    for (auto const& [plain, coded] : std::vector<std::pair<std::string, std::string>>{
             {"", ""}, {"f", "Zg=="}, {"fo", "Zm8="}, {"foo", "Zm9v"}, {"foob", "Zm9vYg=="}}) {
      std::string text;
      Out const out = [&](std::string_view piece) { text += piece; };
      Base64Writer writer(out);
      for (char const c : plain) writer.byte(static_cast<std::uint8_t>(c));
      writer.finish();
      CHECK(text == coded);
    }
  }

  TEST_CASE("a column comes back to half a unit, however long it is") {
    std::mt19937 random(7);
    std::uniform_real_distribution<double> small(-1, 1), large(-1e7, 1e7);
    std::vector<double> values;
    double sum = 0;
    for (int i = 0; i < 20000; ++i) values.push_back(sum += small(random));
    for (int i = 0; i < 200; ++i) values.push_back(large(random));
    std::string text;
    Out const out = [&](std::string_view piece) { text += piece; };
    ColumnWriter writer(out, "x", 0.002);
    for (double const value : values) writer.add(value);
    writer.finish();
    auto const back = column_of(text, 0.002);
    REQUIRE(back.size() == values.size());
    double worst = 0;
    for (std::size_t i = 0; i < back.size(); ++i) {
      worst = std::max(worst, std::abs(back[i] - values[i]));
    }
    CHECK(worst <= 0.0010001);
  }

  TEST_CASE("tables, shares and charts keep what they are given") {
    std::string text;
    Out const out = [&](std::string_view piece) { text += piece; };
    write_table(out,
                {.caption = "Parts <1>",
                 .columns = {{"part", "", Align::left}, {"deflection", "mm"}},
                 .rows = {{{"bracket & bolt"}, {"0.25", "parts.deflection_mm"}}}});
    CHECK(text.find("Parts &lt;1&gt;") != std::string::npos);
    CHECK(text.find("<td class=\"right\" data-json=\"parts.deflection_mm\">0.25</td>") !=
          std::string::npos);
    text.clear();
    write_shares(out,
                 {.caption = "c", .shares = {{"melt", 0.25, "25 %"}, {"frame", 0.75, "75 %"}}});
    CHECK(text.find("flex:25.000") != std::string::npos);
    CHECK(text.find("frame <b>75 %</b>") != std::string::npos);
    text.clear();
    write_chart(out,
                {.id = "flow",
                 .title = "Flow",
                 .x_label = "s",
                 .y_label = "mm³/s",
                 .x = {0, 1},
                 .series = {{.name = "\"</script>",
                             .role = Role::measured,
                             .stroke = Stroke::points,
                             .y = {1, std::numeric_limits<double>::quiet_NaN()},
                             .plus_minus = {0.1, 0.1}}}});
    CHECK(text.find("id=\"flow-y0-pm\"") != std::string::npos);
    CHECK(text.find("\"</script>") == std::string::npos);
    CHECK(bytes_of(content(text)) == std::vector<std::uint8_t>{0, 0, 0, 0, 0, 0, 128, 63});
  }
}
