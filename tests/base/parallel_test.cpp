// SPDX-License-Identifier: MIT
#include "meltlag/base/parallel.hpp"

#include <doctest/doctest.h>

#include <atomic>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

using namespace meltlag;

TEST_SUITE("base") {
  TEST_CASE("each piece of work is done once, on no more threads than asked for") {
    for (unsigned const threads : {0U, 1U, 2U, 7U}) {
      std::vector<std::atomic<int>> done(100);
      std::atomic<unsigned> at_work = 0, most = 0;
      in_parallel(done.size(), threads, [&](std::size_t i) {
        unsigned const now = ++at_work;
        unsigned before = most;
        while (before < now && !most.compare_exchange_weak(before, now)) {
        }
        ++done[i];
        --at_work;
      });
      for (auto const& count : done) CHECK(count == 1);
      CHECK(most <= (threads > 0 ? threads : std::max(1U, std::thread::hardware_concurrency())));
    }
    in_parallel(0, 2, [](std::size_t) { FAIL("there is nothing to do"); });
  }

  TEST_CASE("all is done before the first failure by number is told") {
    std::atomic<int> done = 0;
    std::string told;
    try {
      in_parallel(20, 4, [&](std::size_t i) {
        ++done;
        if (i % 7 == 3) throw std::runtime_error(std::to_string(i));
      });
    } catch (std::runtime_error const& error) {
      told = error.what();
    }
    CHECK(told == "3");
    CHECK(done == 20);
  }
}
