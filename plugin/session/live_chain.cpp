#include "plugin/session/live_chain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

namespace airlatch {

LiveChain::LiveChain(const v1::Rig& rig, const v1::Plan& plan,
                     const std::vector<std::string>& channels, double patience_s,
                     std::function<void(const v1::Event&)> on_event,
                     std::function<void(const std::string&)> on_remark)
    : rig_(rig),
      plan_(plan),
      patience_s_(patience_s),
      on_event_(std::move(on_event)),
      on_remark_(std::move(on_remark)),
      names_(channels) {
  if (!names_.empty()) start();
}

void LiveChain::start() {
  std::vector<SourceChannel> channels;
  for (const std::string& name : names_) {
    SourceChannel channel;
    channel.name = name;
    channels.push_back(channel);
  }
  const RigMatch match = match_rig(channels, rig_, "samples");
  for (const std::string& name : names_) index_[name] = match.channels.size();
  for (std::size_t c = 0; c < match.channels.size(); ++c)
    index_[names_[match.source_channel[c]]] = c;
  lanes_.resize(match.channels.size());
  if (!waiting_.empty())
    for (Lane& lane : lanes_) lane.heard_s = waiting_.back().now_s;
  for (const std::string& remark : match.remarks) on_remark_(remark);
  chain_ = std::make_unique<Chain>(match.channels, ChainSettings{.rig = rig_, .plan = plan_});
  chain_->on_event.connect(on_event_);
  const std::vector<Kept> kept = std::move(waiting_);
  waiting_.clear();
  for (const Kept& k : kept) hand_on(k);
}

void LiveChain::hand_on(const Kept& kept) {
  const auto at = index_.find(kept.channel);
  if (at == index_.end()) {
    on_remark_(
        fmt::format("channel '{}' came after the first {} s and is passed over; name it beforehand",
                    kept.channel, kSettle_s));
    index_[kept.channel] = lanes_.size();
    return;
  }
  if (at->second >= lanes_.size()) return;  // no role
  Lane& lane = lanes_[at->second];
  SampleBlock block{.channel = at->second};
  block.values = kept.values;
  const std::int64_t time_ns[] = {kept.time_ns};
  if (kept.clock.num_ns == 0) {
    block.times_ns = time_ns;
  } else {
    const bool goes_on = lane.next > 0 && lane.clock.num_ns == kept.clock.num_ns &&
                         lane.clock.den == kept.clock.den &&
                         std::abs(lane.clock.time_ns(lane.next) - kept.time_ns) <= 1;
    block.clock = goes_on ? lane.clock : kept.clock;
    block.first = goes_on ? lane.next : 0;
    lane = {block.clock, block.first + std::ssize(kept.values)};
  }
  lane.newest_ns = block.time_ns(block.values.size() - 1);
  lane.heard_s = kept.now_s;
  chain_->push(block);
}

void LiveChain::pass_over_the_silent(double now_s) {
  bool silent = false;
  std::int64_t until_ns =
      std::numeric_limits<std::int64_t>::max();  // all that still speak have told
  for (Lane& lane : lanes_) {
    if (lane.heard_s == 0) lane.heard_s = now_s;
    if (now_s - lane.heard_s > patience_s_)
      silent = true;
    else
      until_ns = std::min(until_ns, lane.newest_ns);
  }
  // A channel that comes back was stamped a moment before the others' newest: it must not be late.
  constexpr std::int64_t kReturn_ns = 500'000'000;
  if (silent && until_ns != std::numeric_limits<std::int64_t>::max())
    chain_->advance(until_ns - kReturn_ns);
}

void LiveChain::push(const std::string& channel, std::int64_t time_ns, const SampleClock& clock,
                     std::span<const float> values, double now_s) {
  if (values.empty()) return;
  const Kept kept{channel, time_ns, clock, {values.begin(), values.end()}, now_s};
  const std::int64_t last_ns =
      clock.num_ns == 0 ? time_ns
                        : time_ns + clock.time_ns(std::ssize(values) - 1) - clock.time_ns(0);
  first_ns_ = any_ ? std::min(first_ns_, time_ns) : time_ns;
  newest_ns_ = any_ ? std::max(newest_ns_, last_ns) : last_ns;
  any_ = true;
  if (chain_) {
    hand_on(kept);
    pass_over_the_silent(now_s);
    return;
  }
  if (std::find(names_.begin(), names_.end(), channel) == names_.end()) names_.push_back(channel);
  waiting_.push_back(kept);
  // A channel told whole before the next begins: all of them are waited for, up to a bound.
  kept_values_ += values.size();
  if (first_wait_s_ == 0) first_wait_s_ = now_s;
  const bool long_enough = static_cast<double>(newest_ns_ - first_ns_) * 1e-9 >= kSettle_s &&
                           now_s - first_wait_s_ >= kWallSettle_s;
  if (long_enough || kept_values_ > kMostKept) start();
}

void LiveChain::push(const SampleBlock& block, const std::string& channel, double now_s) {
  const auto at = index_.find(channel);
  if (block.values.empty() || at == index_.end()) return;
  const std::int64_t from_ns = block.time_ns(0);
  first_ns_ = any_ ? std::min(first_ns_, from_ns) : from_ns;
  any_ = true;
  if (at->second >= lanes_.size()) return;  // no role
  Lane& lane = lanes_[at->second];
  lane.newest_ns = block.time_ns(block.values.size() - 1);
  lane.heard_s = now_s;
  SampleBlock own = block;
  own.channel = at->second;
  chain_->push(own);
  pass_over_the_silent(now_s);
}

void LiveChain::idle(double now_s) {
  if (chain_)
    pass_over_the_silent(now_s);
  else if (any_ && static_cast<double>(newest_ns_ - first_ns_) * 1e-9 >= kSettle_s &&
           now_s - first_wait_s_ >= kWallSettle_s)
    start();
}

void LiveChain::finish() {
  if (!chain_ && any_) start();
  if (chain_) chain_->finish();
}

}  // namespace airlatch
