// SPDX-License-Identifier: GPL-3.0-or-later
// send_queue.hpp: messages on their way to the host, kept while it is too slow to take them.
//
// libsigrok must not be held up, or its instrument loses samples that nobody counts. So the pipe is
// written without waiting, and what it does not take stays here; the sender asks `full` before it
// adds more, and counts what it then leaves out.
#pragma once
#include <string>

#include "airlatch/v1/sample.pb.h"

namespace airlatch {

class SendQueue {
 public:
  static constexpr std::size_t kMost_bytes = 16U << 20;

  explicit SendQueue(int fd) : fd_(fd) {}  // REQUIRES: O_NONBLOCK
  void add(const v1::InstrumentMessage& message);
  // As much as the host takes now. False: the host has gone.
  [[nodiscard]] bool hand_over();
  // Everything, however long that takes. False: the host has gone.
  [[nodiscard]] bool flush();
  [[nodiscard]] bool full() const { return bytes_.size() > kMost_bytes; }
  [[nodiscard]] float share() const { return static_cast<float>(bytes_.size()) / kMost_bytes; }

 private:
  int fd_;
  std::string bytes_;
};

}  // namespace airlatch
