// SPDX-License-Identifier: MIT
#include "meltlag/base/progress.hpp"

#include <doctest/doctest.h>

#include <thread>
#include <vector>

using namespace meltlag;

namespace {

class Listener final : public ProgressWatcher {
 public:
  void on_progress(Progress const& progress) override { told.push_back(progress); }
  std::vector<Progress> told;
};

}  // namespace

TEST_SUITE("base") {
  TEST_CASE("a task inside another stands for its range of it") {
    Listener listener;
    WatchProgress const watch(listener);
    Task const outer("adapting");
    tell_progress(0.1);
    {
      Task const inner("checking", 0.8, 1);
      tell_progress(0.5);
      Task const innermost("", 0.5, 1);
      tell_progress(0.5);
    }
    tell_progress(1.5);  // no more than all
    REQUIRE(listener.told.size() == 4);
    CHECK(listener.told[0].doing == "adapting");
    CHECK(listener.told[0].share == doctest::Approx(0.1));
    CHECK(listener.told[1].doing == "adapting, checking");
    CHECK(listener.told[1].share == doctest::Approx(0.9));
    CHECK(listener.told[2].doing == "adapting, checking");
    CHECK(listener.told[2].share == doctest::Approx(0.95));
    CHECK(listener.told[3].doing == "adapting");
    CHECK(listener.told[3].share == 1);
  }

  TEST_CASE("inside an open task nobody knows how much of the whole is done") {
    Listener listener;
    WatchProgress const watch(listener);
    tell_progress(0);
    Task const trial("trial 3", 0, 1, Task::Rest::open);
    Task const inner("adapting", 0, 0.5);
    tell_progress(1);
    REQUIRE(listener.told.size() == 2);
    CHECK(listener.told[0].of_whole);
    CHECK_FALSE(listener.told[1].of_whole);
    CHECK(listener.told[1].share == doctest::Approx(0.5));
  }

  TEST_CASE("only the thread that is watched is heard, and only while it is") {
    Listener listener, other;
    {
      WatchProgress const watch(listener);
      std::thread([] {
        CHECK_FALSE(progress_is_watched());
        tell_progress(0.5);
      }).join();
      {
        WatchProgress const watch_instead(other);
        tell_progress(0.2);
      }
      tell_progress(0.3);
    }
    CHECK_FALSE(progress_is_watched());
    tell_progress(0.4);
    REQUIRE(listener.told.size() == 1);
    CHECK(listener.told[0].share == doctest::Approx(0.3));
    CHECK(other.told.size() == 1);
  }
}
