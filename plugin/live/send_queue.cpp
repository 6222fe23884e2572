// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/send_queue.hpp"

#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <cerrno>

#include "plugin/live/message_frames.hpp"

namespace airlatch {

SendQueue::SendQueue(int fd)
    : fd_(fd), wake_fd_(::eventfd(0, EFD_CLOEXEC)), thread_([this] { hand_over(); }) {}

SendQueue::~SendQueue() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  added_.notify_one();
  ::eventfd_write(wake_fd_, 1);
  thread_.join();
  ::close(wake_fd_);
}

void SendQueue::add(const v1::InstrumentMessage& message) {
  {
    const std::lock_guard lock(mutex_);
    append_frame(message, bytes_);
  }
  added_.notify_one();
}

bool SendQueue::flush() {
  std::unique_lock lock(mutex_);
  taken_.wait(lock, [this] { return gone_ || (bytes_.empty() && on_the_way_ == 0); });
  return !gone_;
}

bool SendQueue::host_gone() const {
  const std::lock_guard lock(mutex_);
  return gone_;
}

std::size_t SendQueue::waiting_bytes() const {
  const std::lock_guard lock(mutex_);
  return bytes_.size() + on_the_way_;
}

void SendQueue::hand_over() {
  std::string bytes;
  std::unique_lock lock(mutex_);
  while (!gone_) {
    added_.wait(lock, [this] { return ending_ || !bytes_.empty(); });
    if (ending_) return;
    bytes.clear();
    bytes.swap(bytes_);
    on_the_way_ = bytes.size();
    for (std::size_t done = 0; on_the_way_ > 0 && !gone_ && !ending_;) {
      lock.unlock();
      const bool there = write_some(bytes, done);
      lock.lock();
      on_the_way_ = bytes.size() - done;
      gone_ = !there;
    }
    taken_.notify_all();
  }
}

// Waits until the host takes some. False: it has gone.
bool SendQueue::write_some(const std::string& bytes, std::size_t& done) const {
  pollfd waits[] = {{fd_, POLLOUT, 0}, {wake_fd_, POLLIN, 0}};
  ::poll(waits, 2, -1);
  if ((waits[0].revents & (POLLOUT | POLLERR)) == 0) return true;
  const ssize_t n = ::write(fd_, bytes.data() + done, bytes.size() - done);
  if (n > 0) done += static_cast<std::size_t>(n);
  return n > 0 || errno == EAGAIN || errno == EINTR;
}

}  // namespace airlatch
