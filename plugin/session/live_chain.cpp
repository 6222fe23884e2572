// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/live_chain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {
constexpr std::size_t kLate = std::numeric_limits<std::size_t>::max();
}  // namespace

LiveChain::LiveChain(const Rig& rig, const Plan& plan, const std::vector<std::string>& channels,
                     double patience_s, std::function<void(const Event&)> on_event,
                     std::function<void(const std::string&)> on_remark,
                     std::vector<std::string> units)
    : rig_(rig),
      plan_(plan),
      patience_s_(patience_s),
      on_event_(std::move(on_event)),
      on_remark_(std::move(on_remark)),
      units_(std::move(units)) {
  for (const std::string& name : channels) (void)number_of(name);
  if (!names_.empty()) start();
}

// Of a name that is new: the next one, or kLate once the channels are fixed.
std::size_t LiveChain::number_of(const std::string& channel) {
  std::string key = channel;
  for (char& c : key)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c + ('a' - 'A'));
  if (const auto at = index_.find(key); at != index_.end()) return at->second;
  if (index_.size() >= kMostChannels) return kLate;
  if (driver_) {
    index_.emplace(std::move(key), kLate);
    on_remark_(
        fmt::format("channel '{}' came after the first {} s and is passed over; name it beforehand",
                    shown_name(channel), kSettle_s));
    return kLate;
  }
  index_.emplace(std::move(key), names_.size());
  names_.push_back(channel);
  return names_.size() - 1;
}

void LiveChain::start() {
  std::vector<SourceChannel> channels;
  for (const std::string& name : names_) {
    SourceChannel channel;
    channel.name = name;
    if (channels.size() < units_.size() && parse_unit(units_[channels.size()]))
      channel.unit = units_[channels.size()];
    channels.push_back(channel);
  }
  match_ = match_rig(channels, rig_, "samples");
  received_s_.assign(names_.size(), waiting_.empty() ? 0 : waiting_.back().now_s);
  for (const std::string& remark : match_.remarks) on_remark_(remark);
  constexpr std::int64_t kRounding_ns = 1;  // of a host's stamps
  driver_ = std::make_unique<ChainDriver>(
      match_, names_.size(), ChainSettings{.rig = rig_, .plan = plan_},
      [this](const Event& event) {
        plausibility_.take(event);
        on_event_(event);
      },
      kRounding_ns);
  used_ = match_.source_channel;
  const std::vector<Kept> kept = std::move(waiting_);
  waiting_.clear();
  for (const Kept& k : kept) hand_on(k);
}

void LiveChain::hand_on(const Kept& kept) {
  SampleBlock block{.clock = kept.clock, .values = kept.values};
  const std::int64_t time_ns[] = {kept.time_ns};
  if (kept.clock.num_ns == 0)
    block.times_ns = time_ns;
  else
    block.clock.start_ns = kept.time_ns;
  push(kept.channel, block, kept.now_s);
}

void LiveChain::push(std::size_t channel, SampleBlock block, double now_s) {
  block.channel = channel;
  received_s_[channel] = now_s;
  driver_->push(block);
  tell_impossible();
}

void LiveChain::tell_impossible() {
  if (told_impossible_) return;
  const auto found = impossible(match_, *driver_, false);
  if (!found) return;
  told_impossible_ = true;
  on_remark_(fmt::format("DOUBTFUL: channel '{}': {}; {}", shown_name(found->channel), found->what,
                         found->mend));
}

void LiveChain::pass_over_the_silent(double now_s) {
  bool silent = false;
  // All that still send have come so far.
  std::int64_t until_ns = std::numeric_limits<std::int64_t>::max();
  for (const std::size_t c : used_) {
    if (received_s_[c] == 0) received_s_[c] = now_s;
    if (now_s - received_s_[c] > patience_s_)
      silent = true;
    else
      until_ns = std::min(until_ns, driver_->channel(c).newest_ns);
  }
  // A channel that comes back was stamped a moment before the others' newest: its samples must not
  // be dropped.
  constexpr std::int64_t kReturn_ns = 500'000'000;
  if (silent && until_ns != std::numeric_limits<std::int64_t>::max())
    driver_->advance(until_ns - kReturn_ns);
}

void LiveChain::push(const std::string& channel, std::int64_t time_ns, const SampleClock& clock,
                     std::span<const float> values, double now_s) {
  if (values.empty()) return;
  const SampleBlock block{.clock = {time_ns, clock.num_ns, clock.den}, .values = values};
  if (clock.num_ns == 0 ? !countable(time_ns) : !block.sound()) {
    uncountable_ += std::ssize(values);
    return;
  }
  const std::size_t number = number_of(channel);
  if (number == kLate) return;
  const Kept kept{number, time_ns, clock, {values.begin(), values.end()}, now_s};
  const std::int64_t last_ns = clock.num_ns == 0 ? time_ns : block.time_ns(values.size() - 1);
  first_ns_ = any_ ? std::min(first_ns_, time_ns) : time_ns;
  newest_ns_ = any_ ? std::max(newest_ns_, last_ns) : last_ns;
  any_ = true;
  if (driver_) {
    hand_on(kept);
    pass_over_the_silent(now_s);
    return;
  }
  waiting_.push_back(kept);
  // Some senders send one whole channel before the next: all are waited for, up to a bound.
  kept_values_ += values.size();
  if (first_wait_s_ == 0) first_wait_s_ = now_s;
  const bool long_enough = static_cast<double>(newest_ns_ - first_ns_) * 1e-9 >= kSettle_s &&
                           now_s - first_wait_s_ >= kWallSettle_s;
  if (long_enough || kept_values_ > kMostKept || waiting_.size() > kMostStretches) start();
}

void LiveChain::push(const SampleBlock& block, const std::string& channel, double now_s) {
  const std::size_t number = number_of(channel);
  if (block.values.empty() || number == kLate) return;
  if (!block.sound()) {
    uncountable_ += std::ssize(block.values);
    return;
  }
  const std::int64_t from_ns = block.time_ns(0);
  first_ns_ = any_ ? std::min(first_ns_, from_ns) : from_ns;
  any_ = true;
  push(number, block, now_s);
  pass_over_the_silent(now_s);
}

void LiveChain::idle(double now_s) {
  if (driver_)
    pass_over_the_silent(now_s);
  else if (any_ && static_cast<double>(newest_ns_ - first_ns_) * 1e-9 >= kSettle_s &&
           now_s - first_wait_s_ >= kWallSettle_s)
    start();
}

void LiveChain::finish() {
  if (!driver_ && any_) start();
  if (!driver_) return;
  driver_->finish();
  plausibility_.finish(match_, *driver_);
  for (const std::string& doubt : plausibility_.doubts()) on_remark_("DOUBTFUL: " + doubt);
  for (const std::string& remark : plausibility_.remarks()) on_remark_(remark);
}

}  // namespace airlatch
