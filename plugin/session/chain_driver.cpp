// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/chain_driver.hpp"

#include <algorithm>
#include <cstdlib>

namespace airlatch {

ChainDriver::ChainDriver(const RigMatch& match, std::size_t channels, const ChainSettings& settings,
                         const std::function<void(const Event&)>& on_event, std::int64_t joins_ns)
    : chain_(match.channels, settings), joins_ns_(joins_ns), lanes_(channels) {
  for (std::size_t c = 0; c < match.channels.size(); ++c) lanes_[match.source_channel[c]].place = c;
  chain_.on_event.connect(on_event);
}

void ChainDriver::push(const SampleBlock& raw) {
  if (raw.values.empty()) return;
  Lane& lane = lanes_.at(raw.channel);
  if (!raw.sound()) {
    uncountable_ += std::ssize(raw.values);
    return;
  }
  SampleBlock block = raw;
  if (block.times_ns.empty()) {
    const bool goes_on = lane.next > 0 && lane.clock.num_ns == raw.clock.num_ns &&
                         lane.clock.den == raw.clock.den &&
                         std::abs(lane.clock.time_ns(lane.next) - raw.time_ns(0)) <= joins_ns_;
    if (goes_on) {
      block.clock = lane.clock;
      block.first = lane.next;
      if (!block.sound()) block = raw;  // at the very end of what can be counted
    }
    lane.clock = block.clock;
    lane.next = block.first + std::ssize(block.values);
    lane.about.rate_hz = 1 / block.clock.period_s();
  }
  const std::int64_t from_ns = block.time_ns(0), to_ns = block.time_ns(block.values.size() - 1);
  lane.about.samples += std::ssize(block.values);
  lane.about.newest_ns = to_ns;
  if (!lane.place) return;
  first_ns_ = std::min(first_ns_.value_or(from_ns), from_ns);
  last_ns_ = std::max({last_ns_.value_or(to_ns), from_ns, to_ns});
  block.channel = *lane.place;
  chain_.push(block);
}

void ChainDriver::end_channel(std::size_t channel) {
  if (lanes_[channel].place) chain_.end_channel(*lanes_[channel].place);
}

std::optional<std::size_t> ChainDriver::place(std::size_t channel) const {
  return lanes_[channel].place;
}

double ChainDriver::duration_s() const {
  return first_ns_ ? static_cast<double>(*last_ns_ - *first_ns_) * 1e-9 : 0;
}

}  // namespace airlatch
