// SPDX-License-Identifier: MIT
// What one thread reads, another follows: moves, halts and settings in their order.
#pragma once

#include <deque>
#include <future>
#include <utility>
#include <variant>
#include <vector>

#include "meltlag/base/worker.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "meltlag/judge/path_piece.hpp"

namespace meltlag::judge {

// `Receiver` has push(move, piece), push(halt) and push(setting).
template <class Receiver>
class Beside {
 public:
  // `threads`: how many may be at work in all, 0: as many as there are processors. With one,
  // nothing is done beside anything.
  Beside(Receiver& receiver, unsigned threads) : receiver_(receiver), worker_(threads) {}

  void push(gcode::Move const& move, PathPiece const& piece) {
    if (!worker_.is_beside()) return receiver_.push(move, piece);
    add(std::pair(move, piece));
  }
  template <class Event>
  void push(Event const& event) {
    if (!worker_.is_beside()) return receiver_.push(event);
    add(event);
  }
  // Returns when the receiver has everything; throws what it threw.
  void finish() {
    if (!filling_.empty()) send();
    while (!under_way_.empty()) wait();
  }

 private:
  using Placed = std::pair<gcode::Move, PathPiece>;
  using Events = std::vector<std::variant<Placed, gcode::Halt, gcode::Setting>>;
  static constexpr std::size_t together = 256, most_under_way = 8;

  template <class Event>
  void add(Event const& event) {
    filling_.emplace_back(event);
    if (filling_.size() == together) send();
  }
  void send() {
    if (under_way_.size() == most_under_way) wait();
    under_way_.push_back(worker_.post([this, events = std::exchange(filling_, {})] {
      for (auto const& event : events) std::visit([this](auto const& e) { this->pass(e); }, event);
    }));
    filling_.reserve(together);
  }
  void pass(Placed const& placed) { receiver_.push(placed.first, placed.second); }
  template <class Event>
  void pass(Event const& event) {
    receiver_.push(event);
  }
  void wait() {
    under_way_.front().get();
    under_way_.pop_front();
  }

  Receiver& receiver_;
  Events filling_;
  std::deque<std::future<void>> under_way_;
  Worker worker_;
};

}  // namespace meltlag::judge
