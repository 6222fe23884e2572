// SPDX-License-Identifier: GPL-3.0-or-later
// slicer.hpp: the one place where input of any cut becomes slices of a fixed time grid.
//
// In    raw blocks of several channels, each in rising time, cut anywhere.
// Out   slices [t0 + k S, t0 + (k+1) S) with all channels' samples in them, in order; empty slices
//       are passed over. t0 is the earliest first sample of all channels.
// How   a slice is handed out once every channel that has not ended has passed it, so that decoders
//       see all channels in one time order and nothing depends on the cut of the input.
// Cost  memory for the samples by which one channel is ahead of the others; the host keeps that
//       bounded.
#pragma once
#include <cstdint>
#include <deque>
#include <functional>
#include <limits>
#include <vector>

#include "decoders/stream/sample_block.hpp"

namespace airlatch {

class Slicer {
 public:
  // Longer ones are quicker; this is the longest that keeps the waits the README promises.
  static constexpr std::int64_t kSlice_ns = 40'000'000;

  // Called for each slice: its blocks (channel order; a channel may have several where its clock
  // changes) and the slice's end.
  using Deliver =
      std::function<void(const std::vector<SampleBlock>&, std::int64_t t0_ns, std::int64_t end_ns)>;

  Slicer(std::size_t channels, Deliver deliver);
  // Samples whose time is not after the one before, or cannot be counted, are dropped; so are those
  // of a channel that was ended.
  void push(const SampleBlock& raw);
  void end_channel(std::size_t channel);
  // No sample before `until_ns` will come any more, on any channel: silent ones do not delay the
  // others.
  void advance(std::int64_t until_ns);
  void finish();  // hands out what is left
  [[nodiscard]] std::int64_t dropped() const { return dropped_; }
  // Whether the channel's time is known, by a sample or by advance().
  [[nodiscard]] bool seen(std::size_t channel) const { return channels_[channel].seen; }

 private:
  struct Piece {  // samples that share one clock, or have explicit times
    SampleClock clock = {};
    std::int64_t first = 0;
    bool explicit_times = false;
    std::int64_t per_slice = 0;  // samples of a slice, where that is a whole number
    std::int64_t asked_ns = std::numeric_limits<std::int64_t>::min();  // the last instant asked for
    std::int64_t found = 0;                                            // and its sample
    std::vector<std::int64_t> times_ns = {};
    std::vector<float> values = {};
    std::size_t head = 0;  // samples before it are handed out already
    [[nodiscard]] std::size_t left() const { return values.size() - head; }
    [[nodiscard]] std::int64_t time_ns(std::size_t i) const {
      return explicit_times ? times_ns[i] : clock.time_ns(first + static_cast<std::int64_t>(i));
    }
    std::size_t first_at_or_after(std::int64_t t_ns);
    void compact();
  };
  struct Channel {
    std::deque<Piece> pieces = {};
    bool seen = false, ended = false;
    std::int64_t last_ns = 0;  // of the newest sample
  };
  void drain(bool all);
  bool hand_out(bool all);
  static void tidy(Channel& channel, bool all);
  void append(Channel& channel, const SampleBlock& raw, std::size_t from, std::size_t to);

  std::vector<Channel> channels_;
  Deliver deliver_;
  std::vector<SampleBlock> slice_;  // reused
  bool started_ = false;
  std::int64_t t0_ns_ = 0, dropped_ = 0;
};

}  // namespace airlatch
