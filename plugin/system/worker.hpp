// SPDX-License-Identifier: GPL-3.0-or-later
// worker.hpp: one thread that shares its owner's work.
//
// How   the pieces of a task are taken one by one by whichever thread is free, so that
//       neither waits long for the other; what each piece works on is its own, so that nothing
//       depends on who takes it.
#pragma once
#include <condition_variable>
#include <cstddef>
#include <exception>
#include <functional>
#include <mutex>
#include <thread>
#include <utility>

namespace airlatch {

class Worker {
 public:
  Worker() : thread_([this] { help(); }) {}
  ~Worker() {
    {
      const std::lock_guard lock(mutex_);
      stop_ = true;
    }
    given_.notify_one();
    thread_.join();
  }
  Worker(const Worker&) = delete;
  Worker& operator=(const Worker&) = delete;

  // task(0) to task(n - 1), in any order and two at a time; all are done on return. What the first
  // of them threw is thrown.
  void do_all(std::size_t n, const std::function<void(std::size_t)>& task) {
    std::unique_lock lock(mutex_);
    task_ = &task;
    next_ = 0;
    n_ = left_ = n;
    given_.notify_one();
    while (next_ < n_) do_one(lock);
    done_.wait(lock, [this] { return left_ == 0; });
    if (thrown_) std::rethrow_exception(std::exchange(thrown_, nullptr));
  }

 private:
  void help() {
    std::unique_lock lock(mutex_);
    while (true) {
      given_.wait(lock, [this] { return stop_ || next_ < n_; });
      if (stop_) return;
      do_one(lock);
      if (left_ == 0) done_.notify_one();
    }
  }
  void do_one(std::unique_lock<std::mutex>& lock) {
    const std::size_t i = next_++;
    const auto& task = *task_;
    lock.unlock();
    std::exception_ptr thrown;
    try {
      task(i);
    } catch (...) {
      thrown = std::current_exception();
    }
    lock.lock();
    if (thrown && !thrown_) thrown_ = thrown;
    --left_;
  }

  std::mutex mutex_;
  std::condition_variable given_, done_;
  std::exception_ptr thrown_;
  const std::function<void(std::size_t)>* task_ = nullptr;
  std::size_t next_ = 0, n_ = 0, left_ = 0;
  bool stop_ = false;
  std::thread thread_;  // last: what it uses is made before it
};

}  // namespace airlatch
