// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>
#include <thread>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/base/text.hpp"

using meltlag::Notices;

TEST_SUITE("base") {
  TEST_CASE("notices are grouped by text in the order of their first place") {
    Notices notices;
    notices.note("late", 7);
    notices.note("early", 2);
    notices.note("late", 9);
    auto const list = notices.list();
    REQUIRE(list.size() == 2);
    CHECK(list[0].text == "late");
    CHECK(list[0].count == 2);
    CHECK(list[0].lines == std::vector<std::int64_t>{7, 9});
    CHECK(list[1].text == "early");
    CHECK(list[1].lines == std::vector<std::int64_t>{2});
  }

  TEST_CASE("a notice counts all its places but keeps the first five") {
    Notices notices;
    for (int line = 1; line <= 1000; ++line) notices.note("again", line);
    auto const list = notices.list();
    REQUIRE(list.size() == 1);
    CHECK(list[0].count == 1000);
    CHECK(list[0].lines == std::vector<std::int64_t>{1, 2, 3, 4, 5});
  }

  TEST_CASE("beyond two hundred kinds, further ones are counted under a closing notice") {
    Notices notices;
    for (int kind = 0; kind < 1000; ++kind) notices.note("kind " + std::to_string(kind), kind);
    notices.note("kind 3", 5000);
    auto const list = notices.list();
    REQUIRE(list.size() == 201);
    CHECK(list[3].count == 2);
    CHECK(list.back().text.find("further kinds") != std::string::npos);
    CHECK(list.back().count == 800);
  }

  TEST_CASE("notices may come from several threads") {
    Notices notices;
    std::vector<std::thread> threads;
    for (int t = 0; t < 4; ++t) {
      threads.emplace_back([&notices] {
        for (int i = 0; i < 5000; ++i) notices.note(i % 2 == 0 ? "even" : "odd", i);
      });
    }
    for (auto& thread : threads) thread.join();
    auto const list = notices.list();
    REQUIRE(list.size() == 2);
    CHECK(list[0].count == 10000);
    CHECK(list[1].count == 10000);
  }

  TEST_CASE("text is trimmed and searched without regard to case") {
    CHECK(meltlag::trim(" \t a b\t ") == "a b");
    CHECK(meltlag::trim(" \t ").empty());
    CHECK(meltlag::contains_ignoring_case("start Feet_print", "FEET"));
    CHECK_FALSE(meltlag::contains_ignoring_case("start fee", "FEET"));
    CHECK_FALSE(meltlag::contains_ignoring_case("", "FEET"));
  }
}
