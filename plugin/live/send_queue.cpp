// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/send_queue.hpp"

#include <poll.h>
#include <unistd.h>

#include <cerrno>

#include "plugin/live/message_frames.hpp"

namespace airlatch {

void SendQueue::add(const v1::InstrumentMessage& message) { append_frame(message, bytes_); }

bool SendQueue::hand_over() {
  std::size_t done = 0;
  while (done < bytes_.size()) {
    const ssize_t n = ::write(fd_, bytes_.data() + done, bytes_.size() - done);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0 && errno == EAGAIN) break;
    if (n <= 0) return false;
    done += static_cast<std::size_t>(n);
  }
  bytes_.erase(0, done);
  return true;
}

bool SendQueue::flush() {
  while (!bytes_.empty()) {
    pollfd wait = {fd_, POLLOUT, 0};
    ::poll(&wait, 1, -1);
    if (!hand_over()) return false;
  }
  return true;
}

}  // namespace airlatch
