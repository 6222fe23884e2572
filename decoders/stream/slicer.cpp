// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/slicer.hpp"

#include <algorithm>
#include <limits>

namespace airlatch {
namespace {
constexpr std::size_t kMostKept = 65536;  // capacity of an empty piece: samples may join it
}

std::size_t Slicer::Piece::first_at_or_after(std::int64_t t_ns) {
  if (explicit_times)
    return static_cast<std::size_t>(
        std::lower_bound(times_ns.begin() + static_cast<std::ptrdiff_t>(head), times_ns.end(),
                         t_ns) -
        times_ns.begin());
  // One slice after the last, where a slice holds a whole number of samples: no need to divide.
  const bool next = per_slice > 0 && t_ns == asked_ns + kSlice_ns;
  found = next ? found + per_slice : clock.index_at_or_after(t_ns);
  asked_ns = t_ns;
  return static_cast<std::size_t>(std::clamp(since_ns(found, first),
                                             static_cast<std::int64_t>(head),
                                             static_cast<std::int64_t>(values.size())));
}

void Slicer::Piece::compact() {
  if (head < 4096 || head * 2 < values.size()) return;
  values.erase(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(head));
  if (explicit_times)
    times_ns.erase(times_ns.begin(), times_ns.begin() + static_cast<std::ptrdiff_t>(head));
  first += static_cast<std::int64_t>(head);
  head = 0;
}

Slicer::Slicer(std::size_t channels, Deliver deliver)
    : channels_(channels), deliver_(std::move(deliver)) {}

void Slicer::append(Channel& channel, const SampleBlock& raw, std::size_t from, std::size_t to) {
  if (from >= to) return;
  const bool explicit_times = !raw.times_ns.empty();
  const std::int64_t first = raw.first + static_cast<std::int64_t>(from);
  const bool joins =
      !channel.pieces.empty() && channel.pieces.back().explicit_times == explicit_times &&
      (explicit_times ||
       (channel.pieces.back().clock == raw.clock &&
        channel.pieces.back().first + std::ssize(channel.pieces.back().values) == first));
  if (!joins)
    channel.pieces.push_back({.clock = raw.clock,
                              .first = first,
                              .explicit_times = explicit_times,
                              .per_slice = raw.clock.den == 1 && raw.clock.num_ns > 0 &&
                                                   kSlice_ns % raw.clock.num_ns == 0
                                               ? kSlice_ns / raw.clock.num_ns
                                               : 0});
  Piece& piece = channel.pieces.back();
  piece.clock = raw.clock;
  piece.values.insert(piece.values.end(), raw.values.begin() + static_cast<std::ptrdiff_t>(from),
                      raw.values.begin() + static_cast<std::ptrdiff_t>(to));
  if (explicit_times)
    piece.times_ns.insert(piece.times_ns.end(),
                          raw.times_ns.begin() + static_cast<std::ptrdiff_t>(from),
                          raw.times_ns.begin() + static_cast<std::ptrdiff_t>(to));
  channel.last_ns = raw.time_ns(to - 1);
  channel.seen = true;
}

void Slicer::push(const SampleBlock& raw) {
  if (raw.channel >= channels_.size() || raw.values.empty()) return;
  if (!raw.sound() || channels_[raw.channel].ended) {
    dropped_ += std::ssize(raw.values);
    return;
  }
  Channel& channel = channels_[raw.channel];
  if (raw.times_ns.empty()) {
    // On one clock time only rises; a block that starts in the past loses its old part.
    std::size_t from = 0;
    while (from < raw.values.size() && channel.seen && raw.time_ns(from) <= channel.last_ns) ++from;
    dropped_ += static_cast<std::int64_t>(from);
    append(channel, raw, from, raw.values.size());
  } else {
    std::size_t from = 0;
    for (std::size_t i = 0; i < raw.values.size(); ++i) {
      const std::int64_t t_ns = raw.times_ns[i];  // not before the first, which is countable
      if ((!channel.seen || t_ns > channel.last_ns) && t_ns <= kLatest_ns) {
        channel.last_ns = t_ns;
        channel.seen = true;
        continue;
      }
      append(channel, raw, from, i);
      ++dropped_;
      from = i + 1;
    }
    append(channel, raw, from, raw.values.size());
  }
  drain(false);
}

void Slicer::end_channel(std::size_t channel) {
  if (channel >= channels_.size()) return;
  channels_[channel].ended = true;
  drain(false);
}

void Slicer::advance(std::int64_t until_ns) {
  bool any = false;
  for (const Channel& channel : channels_) any = any || channel.seen;
  if (!any) return;  // nothing has come yet: no time is known
  until_ns = std::clamp(until_ns, -kLatest_ns, kLatest_ns);
  for (Channel& channel : channels_) {
    if (!channel.seen || channel.last_ns < until_ns - 1) channel.last_ns = until_ns - 1;
    channel.seen = true;
  }
  drain(false);
}

void Slicer::finish() {
  for (Channel& channel : channels_) channel.ended = true;
  drain(true);
}

void Slicer::drain(bool all) {
  while (hand_out(all)) {
  }
  for (Channel& channel : channels_) tidy(channel, all);
}

// The next slice, if all of it is here.
bool Slicer::hand_out(bool all) {
  constexpr std::int64_t kNever = std::numeric_limits<std::int64_t>::max();
  std::int64_t passed_ns = kNever;  // all samples before this have come, on every channel
  std::int64_t next_ns = kNever;    // the earliest sample waiting
  for (Channel& channel : channels_) {
    while (channel.pieces.size() > 1 && channel.pieces.front().left() == 0)
      channel.pieces.pop_front();
    if (!channel.ended) {
      if (!channel.seen) return false;
      passed_ns = std::min(passed_ns, channel.last_ns);
    }
    for (const Piece& piece : channel.pieces) {
      if (piece.left() == 0) continue;
      next_ns = std::min(next_ns, piece.time_ns(piece.head));
      break;
    }
  }
  if (next_ns == kNever) return false;
  if (!started_) {
    if (!all && passed_ns < next_ns) return false;  // an earlier one may come
    t0_ns_ = next_ns;
    started_ = true;
  }
  const std::int64_t end_ns = t0_ns_ + ((next_ns - t0_ns_) / kSlice_ns + 1) * kSlice_ns;
  // A sample at passed_ns itself may still be followed by others of the same slice.
  if (!all && passed_ns < end_ns) return false;
  slice_.clear();
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    for (Piece& piece : channels_[c].pieces) {
      if (piece.left() == 0) continue;
      const std::size_t to = piece.first_at_or_after(end_ns);
      if (to == piece.head) break;
      const std::size_t n = to - piece.head;
      SampleBlock block{.channel = c,
                        .clock = piece.clock,
                        .first = piece.first + static_cast<std::int64_t>(piece.head)};
      block.values = std::span(piece.values).subspan(piece.head, n);
      if (piece.explicit_times)
        block.times_ns = std::span<const std::int64_t>(piece.times_ns).subspan(piece.head, n);
      slice_.push_back(block);
      piece.head = to;
      if (piece.left() > 0) break;
    }
  }
  deliver_(slice_, t0_ns_, end_ns);
  return true;
}

void Slicer::tidy(Channel& channel, bool all) {
  while (!channel.pieces.empty() && channel.pieces.front().left() == 0 &&
         (channel.pieces.size() > 1 || channel.pieces.front().values.size() > kMostKept || all))
    channel.pieces.pop_front();
  if (channel.pieces.empty()) return;
  Piece& front = channel.pieces.front();
  if (front.left() > 0 || channel.pieces.size() > 1) {
    front.compact();
    return;
  }
  // Keep the piece for the samples that will join it.
  front.first += std::ssize(front.values);
  front.values.clear();
  front.times_ns.clear();
  front.head = 0;
}

}  // namespace airlatch
