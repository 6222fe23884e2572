// SPDX-License-Identifier: GPL-3.0-or-later
// sample_spool.hpp: the samples of many channels in a temporary file, for a format that wants one
// channel after the other.
//
// Cost  64 KiB of memory a channel, and as much of the disk as the samples need.
#pragma once
#include <cstdint>
#include <span>
#include <vector>

namespace airlatch {

class SampleSpool {
 public:
  // In $TMPDIR, else in /tmp. All throw InputError (kReadWriteFailed).
  explicit SampleSpool(std::size_t channels);
  ~SampleSpool();
  SampleSpool(const SampleSpool&) = delete;
  SampleSpool& operator=(const SampleSpool&) = delete;
  void add(std::size_t channel, std::span<const float> values);
  // Bytes of a channel's samples from `at` on. False, with errno, where they cannot be read.
  bool copy(std::size_t channel, std::uint64_t at, void* to, std::size_t bytes) const;

 private:
  static constexpr std::size_t kPiece = 1U << 14;  // samples
  struct Channel {
    std::vector<std::int64_t> pieces;  // where each full one lies in the file
    std::vector<float> rest;
  };
  int fd_ = -1;
  std::int64_t size_ = 0;
  std::vector<Channel> channels_;
};

}  // namespace airlatch
