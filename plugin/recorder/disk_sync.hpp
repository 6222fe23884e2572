// SPDX-License-Identifier: GPL-3.0-or-later
// disk_sync.hpp: hands a growing file to the disk without holding up whoever writes it.
//
// How   what was written survives a kill of the process, whatever the disk does; only a pulled plug
//       takes what was not handed to it. That (fdatasync) may take seconds, so a thread does it.
#pragma once
#include <condition_variable>
#include <cstdint>
#include <mutex>
#include <thread>

namespace airlatch {

class DiskSync {
 public:
  explicit DiskSync(int fd);  // which stays open until this has gone
  ~DiskSync();
  DiskSync(const DiskSync&) = delete;
  DiskSync& operator=(const DiskSync&) = delete;

  // The file's first `size` bytes are to be on the disk soon.
  void ask(std::uint64_t size);
  // Waits until what was asked is. Returns what went wrong (errno) or 0.
  int finish();
  [[nodiscard]] int error() const;  // so far; 0: nothing went wrong
  [[nodiscard]] std::uint64_t synced() const;

 private:
  void run();

  int fd_;
  mutable std::mutex mutex_;
  std::condition_variable asked_more_, done_;
  std::uint64_t asked_ = 0, synced_ = 0;
  int error_ = 0;
  bool ending_ = false;
  std::thread thread_;  // last: what it uses is made before it
};

}  // namespace airlatch
