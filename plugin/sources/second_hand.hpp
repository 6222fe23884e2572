// second_hand.hpp: one thread that does one task beside its owner, again and again.
//
// How   the owner gives a task, does its own share and waits: what each works on is its own, so
// that
//       nothing hangs on which of them is done first.
#pragma once
#include <functional>
#include <semaphore>
#include <thread>

namespace airlatch {

class SecondHand {
 public:
  SecondHand() : thread_([this] { work(); }) {}
  ~SecondHand() {
    wait();
    task_ = nullptr;
    given_.release();
    thread_.join();
  }
  SecondHand(const SecondHand&) = delete;
  SecondHand& operator=(const SecondHand&) = delete;

  // The task must not throw. REQUIRES: the one before was waited for.
  void give(std::function<void()> task) {
    task_ = std::move(task);
    busy_ = true;
    given_.release();
  }
  // Until it is done; at once where nothing was given.
  void wait() {
    if (busy_) done_.acquire();
    busy_ = false;
  }

 private:
  void work() {
    for (given_.acquire(); task_; given_.acquire()) {
      task_();
      done_.release();
    }
  }
  std::function<void()> task_;
  bool busy_ = false;  // as the owner knows
  std::binary_semaphore given_{0}, done_{0};
  std::thread thread_;
};

}  // namespace airlatch
