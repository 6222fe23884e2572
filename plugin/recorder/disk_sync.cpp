// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/recorder/disk_sync.hpp"

#include <unistd.h>

#include <cerrno>

namespace airlatch {

DiskSync::DiskSync(int fd) : fd_(fd), thread_([this] { run(); }) {}

DiskSync::~DiskSync() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  asked_more_.notify_one();
  thread_.join();
}

void DiskSync::ask(std::uint64_t size) {
  {
    const std::lock_guard lock(mutex_);
    asked_ = size;
  }
  asked_more_.notify_one();
}

int DiskSync::finish() {
  std::unique_lock lock(mutex_);
  done_.wait(lock, [this] { return error_ != 0 || synced_ == asked_; });
  return error_;
}

int DiskSync::error() const {
  const std::lock_guard lock(mutex_);
  return error_;
}

std::uint64_t DiskSync::synced() const {
  const std::lock_guard lock(mutex_);
  return synced_;
}

void DiskSync::run() {
  std::unique_lock lock(mutex_);
  while (error_ == 0) {
    asked_more_.wait(lock, [this] { return ending_ || synced_ != asked_; });
    if (ending_) return;
    const std::uint64_t size = asked_;
    lock.unlock();
    const bool done = ::fdatasync(fd_) == 0 || errno == EINVAL;  // EINVAL: it is no disk
    const int error = done ? 0 : errno;
    lock.lock();
    error_ = error;
    if (done) synced_ = size;
    done_.notify_all();
  }
}

}  // namespace airlatch
