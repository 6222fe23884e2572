// SPDX-License-Identifier: GPL-3.0-or-later
// send_queue.hpp: messages on their way to the host, kept while it is too slow to take them.
//
// libsigrok must not be held up, or its instrument loses samples that nobody counts; and its
// callbacks come when they come, a meter's once in seconds. So a thread hands over what was added,
// as soon as the host takes it. The sender asks `full` before it adds more, and counts what it then
// leaves out.
#pragma once
#include <condition_variable>
#include <mutex>
#include <string>
#include <thread>

#include "airlatch/v1/sample.pb.h"

namespace airlatch {

class SendQueue {
 public:
  static constexpr std::size_t kMost_bytes = 16U << 20;

  explicit SendQueue(int fd);  // REQUIRES: O_NONBLOCK
  ~SendQueue();                // what was not handed over by then is not
  SendQueue(const SendQueue&) = delete;
  SendQueue& operator=(const SendQueue&) = delete;

  void add(const v1::InstrumentMessage& message);
  // Everything is with the host, however long that takes. False: the host has gone.
  [[nodiscard]] bool flush();
  [[nodiscard]] bool host_gone() const;
  [[nodiscard]] bool full() const { return waiting_bytes() > kMost_bytes; }
  [[nodiscard]] float share() const { return static_cast<float>(waiting_bytes()) / kMost_bytes; }

 private:
  [[nodiscard]] std::size_t waiting_bytes() const;
  void hand_over();  // the thread
  bool write_some(const std::string& bytes, std::size_t& done) const;

  int fd_, wake_fd_;  // wake_fd_: readable once the thread is to end
  mutable std::mutex mutex_;
  std::condition_variable added_, taken_;
  std::string bytes_;           // added, and not yet the thread's
  std::size_t on_the_way_ = 0;  // the thread's
  bool ending_ = false, gone_ = false;
  std::thread thread_;  // last: what it uses is made before it
};

}  // namespace airlatch
