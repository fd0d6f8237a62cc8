// SPDX-License-Identifier: MIT
#include "meltlag/base/worker.hpp"

#include <doctest/doctest.h>

#include <atomic>
#include <future>
#include <numeric>
#include <stdexcept>
#include <thread>
#include <vector>

using namespace meltlag;

TEST_SUITE("base") {
  TEST_CASE("a worker does what it is given in that order, on a thread of its own if it may") {
    for (unsigned const threads : {1U, 2U}) {
      CAPTURE(threads);
      std::vector<int> done;
      std::vector<std::thread::id> where;
      std::vector<std::future<void>> futures;
      Worker worker(threads);
      for (int i = 0; i < 50; ++i) {
        futures.push_back(worker.post([&, i] {
          done.push_back(i);
          where.push_back(std::this_thread::get_id());
        }));
      }
      for (auto& future : futures) future.get();
      std::vector<int> in_order(50);
      std::iota(in_order.begin(), in_order.end(), 0);
      CHECK(done == in_order);
      bool const here = where.front() == std::this_thread::get_id();
      CHECK(here == (threads == 1));
      for (auto const& id : where) CHECK(id == where.front());
    }
  }

  TEST_CASE("what the work throws comes with its future, and what follows is done") {
    Worker worker(2);
    std::atomic<bool> done = false;
    auto first = worker.post([] { throw std::runtime_error("no way on"); });
    auto second = worker.post([&] { done = true; });
    CHECK_THROWS_WITH_AS(first.get(), "no way on", std::runtime_error);
    second.get();
    CHECK(done);
  }

  TEST_CASE("a worker that ends drops what has not begun, and says so") {
    std::promise<void> begun, go_on;
    std::future<void> first, second;
    std::atomic<bool> finished = false, never = true;
    std::thread release;
    {
      Worker worker(2);
      first = worker.post([&] {
        begun.set_value();
        go_on.get_future().get();
        finished = true;
      });
      second = worker.post([&] { never = false; });
      begun.get_future().get();
      // When it is ending: its second work is dropped before it waits for the first.
      release = std::thread([&] {
        second.wait();
        go_on.set_value();
      });
    }
    release.join();
    CHECK(finished);
    CHECK(never);
    first.get();
    CHECK_THROWS_AS(second.get(), std::future_error);
  }
}
