// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/live_capture.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>

#include "plugin/live/host_clock.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr int kRound_ms = 50;

RigMatch match_of(const std::vector<std::string>& names, const std::vector<std::string>& units,
                  const Rig& rig) {
  std::vector<SourceChannel> channels;
  for (std::size_t c = 0; c < names.size(); ++c) {
    SourceChannel channel;
    channel.name = names[c];
    if (parse_unit(units[c])) channel.unit = units[c];
    channels.push_back(channel);
  }
  return match_rig(channels, rig, "instruments");
}

}  // namespace

LiveCapture::LiveCapture(LiveSettings settings, LiveListener listener)
    : settings_(std::move(settings)),
      listener_(std::move(listener)),
      supervisor_(
          settings_.instruments, settings_.child,
          {[this](std::size_t channel, const v1::SampleBlock& block) { take(channel, block); },
           listener_.on_remark}),
      guide_(settings_.plan),
      fuse_(settings_.fuse_a) {}

void LiveCapture::run(const std::function<bool()>& stopped) {
  supervisor_.start(stopped, settings_.wait_s);
  try {
    begin();
    serve(stopped);
  } catch (...) {  // whatever it was: what is recorded is whole
    record([&] { writer_->close(); });
    throw;
  }
}

void LiveCapture::serve(const std::function<bool()>& stopped) {
  const double begun_s = host_now_s();
  while (!stopped() && (settings_.seconds <= 0 || host_now_s() - begun_s < settings_.seconds)) {
    supervisor_.serve(waiting_.empty() ? kRound_ms : 0);
    round();
  }
  supervisor_.end();
  while (!waiting_.empty()) round();
  chain_->finish();
  listener_.on_round();
}

void LiveCapture::round() {
  record([&] { writer_->tick(host_now_s()); });
  decode_for(kDecode_s);
  if (waiting_.empty()) chain_->idle(host_now_s());
  if (first_ns_) guide_.on_time(newest_s_);
  listener_.on_round();
}

// At least one block.
void LiveCapture::decode_for(double seconds) {
  const double until_s = host_now_s() + seconds;
  while (!waiting_.empty()) {
    const Waiting one = std::move(waiting_.front());
    waiting_.pop_front();
    waiting_values_ -= one.values.size();
    watch_lateness(one.block);
    chain_->push(one.block, one.name, one.received_s);
    if (host_now_s() > until_s) return;
  }
}

void LiveCapture::begin() {
  std::vector<RecordedChannel> recorded;
  std::vector<std::string> names, units;
  for (const v1::InstrumentMessage::Channel& channel : supervisor_.channels()) {
    names.push_back(channel.name());
    units.push_back(channel.unit());
    recorded.push_back({channel.name(), channel.unit(), channel.logic(), channel.rate_hz()});
  }
  chain_.emplace(
      settings_.rig, settings_.plan, names, Supervisor::kSilent_s,
      [this](const Event& event) { on_event(event); }, listener_.on_remark, units);
  match_ = match_of(names, units, settings_.rig);
  for (const ChainChannel& channel : match_.channels) scales_.emplace_back(channel.rig);
  if (settings_.record) begin_recording(recorded);
  supervisor_.begin();
}

void LiveCapture::begin_recording(const std::vector<RecordedChannel>& channels) {
  const bool named = !settings_.record->empty();
  writer_ = std::make_unique<McapWriter>(
      named ? *settings_.record
            : fmt::format("capture-{:%Y%m%d-%H%M%S}.mcap", fmt::localtime(std::time(nullptr))),
      channels, settings_.setup,
      named ? McapWriter::Taken::kRefused : McapWriter::Taken::kNumbered);
  path_ = writer_->path();
  listener_.on_remark("recording to " + path_);
}

void LiveCapture::take(std::size_t channel, const v1::SampleBlock& in) {
  Waiting& one = waiting_.emplace_back();
  one.name = in.channel();
  one.values.assign(in.values().begin(), in.values().end());
  one.times_ns.assign(in.times_ns().begin(), in.times_ns().end());
  one.received_s = host_now_s();
  SampleBlock& block = one.block;
  block.channel = channel;
  block.values = one.values;
  block.times_ns = one.times_ns;
  if (one.times_ns.empty()) {
    block.clock = {in.clock().start_ns(), in.clock().period_num_ns(), in.clock().period_den()};
    block.first = in.first_index();
  }
  record([&] { writer_->block(block); });  // raw, before it is decoded
  first_ns_ = std::min(first_ns_.value_or(block.time_ns(0)), block.time_ns(0));
  newest_s_ = std::max(
      newest_s_, static_cast<double>(block.time_ns(one.values.size() - 1) - *first_ns_) * 1e-9);
  watch(block);
  waiting_values_ += one.values.size();
  while (waiting_values_ > kMostBehind) decode_for(kDecode_s);
}

// What each role measures now, and the fuse.
void LiveCapture::watch(const SampleBlock& block) {
  for (std::size_t c = 0; c < match_.channels.size(); ++c) {
    if (match_.source_channel[c] != block.channel) continue;
    const Role role = match_.channels[c].rig.role;
    const auto value = static_cast<double>(scales_[c].apply(block, *first_ns_).values.back());
    figures_[role] = value;
    if (role == Role::MOTOR_CURRENT && fuse_.warns(value, host_now_s()))
      listener_.on_remark(fmt::format("TAKE THE FEED OFF NOW: {:.1f} A on a fuse of {:.0f} A",
                                      std::abs(value), settings_.fuse_a));
  }
}

// Warnings come as late as the samples. A meter's readings are as old as they are.
void LiveCapture::watch_lateness(const SampleBlock& block) {
  if (!block.times_ns.empty()) return;
  const double late_s =
      host_now_s() - static_cast<double>(block.time_ns(block.values.size() - 1)) * 1e-9;
  if (!late_ && late_s > kLate_s)
    listener_.on_remark(fmt::format(
        "THIS COMPUTER IS TOO SLOW: warnings come {:.1f} s late; lower samplerate=", late_s));
  late_ = late_ ? late_s > kLate_s / 2 : late_s > kLate_s;
}

void LiveCapture::on_event(const Event& event) {
  record([&] { writer_->event(event, first_ns_.value_or(0) + std::llround(event.time_s * 1e9)); });
  events_.add(event);
  guide_.on_event(event);
  listener_.on_event(event);
}

template <typename Work>
void LiveCapture::record(Work&& work) {
  if (!writer_) return;
  try {
    work();
  } catch (const InputError& error) {
    writer_.reset();
    failure_ = error.what();
    listener_.on_remark("NOT RECORDING ANY MORE: " + failure_);
  }
}

bool LiveCapture::close_recording() {
  record([&] { writer_->close(); });
  const bool whole = recording();
  writer_.reset();
  if (chain_->dropped() > 0)
    listener_.on_remark(
        fmt::format("{} samples were dropped: they came out of order", chain_->dropped()));
  for (const std::string& remark : supervisor_.clock_remarks()) listener_.on_remark(remark);
  return whole;
}

}  // namespace airlatch
