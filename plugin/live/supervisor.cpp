// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/supervisor.hpp"

#include <fmt/format.h>
#include <poll.h>

#include <algorithm>
#include <cmath>

#include "plugin/live/connection.hpp"

namespace airlatch {
namespace {

void wait_for(const InstrumentProcess& process, int wait_ms) {
  pollfd wait = {process.fd(), POLLIN, 0};
  ::poll(&wait, 1, wait_ms);
}

}  // namespace
Supervisor::Supervisor(const std::vector<InstrumentSpec>& specs, InstrumentChild child,
                       SupervisorListener listener, std::function<double()> now_s)
    : child_(std::move(child)), listener_(std::move(listener)), now_s_(std::move(now_s)) {
  for (const InstrumentSpec& spec : specs) {
    instruments_.emplace_back();
    instruments_.back().spec = spec;
  }
}

void Supervisor::launch(Instrument& instrument) {
  instrument.tried_s = instrument.received_s = now_s_();
  instrument.process = std::make_unique<InstrumentProcess>(instrument.spec, child_);
}

void Supervisor::start(const std::function<bool()>& stopped, double wait_s) {
  for (Instrument& instrument : instruments_) launch(instrument);
  Waiting waiting{wait_s, now_s_() + wait_s};
  const auto answered = [](const Instrument& instrument) { return !instrument.channels.empty(); };
  while (!std::all_of(instruments_.begin(), instruments_.end(), answered)) {
    poll(100);
    if (waiting.told) early_.clear();  // of the time before the capture
    for (Instrument& instrument : instruments_) hear(instrument, waiting);
    if (stopped())
      throw InputError(ExitStatus::kNoInstrument, "", "", "stopped before all instruments answered",
                       "leave out those that are not there");
  }
  number_channels();
}

// What it says before the capture begins; one that has gone is started again while that is waited
// for.
void Supervisor::hear(Instrument& instrument, Waiting& waiting) {
  if (!instrument.process) {
    if (now_s_() - instrument.tried_s > kKnock_s) launch(instrument);
    return;
  }
  std::vector<v1::InstrumentMessage> messages;
  const bool alive = instrument.process->read(messages);
  for (v1::InstrumentMessage& message : messages) {
    if (!message.complaint().empty())
      return miss(instrument,
                  InputError(ExitStatus::kNoInstrument, "", "", message.complaint(), ""),
                  message.may_come(), waiting);
    if (message.channels_size() > 0) {
      instrument.channels = {message.channels().begin(), message.channels().end()};
      instrument.about = message.about();
    } else {
      early_.emplace_back(&instrument, std::move(message));
    }
  }
  const bool answered = !instrument.channels.empty();
  if (alive && (answered || now_s_() - instrument.tried_s <= kHello_s)) return;
  if (answered && !waiting.told) return;  // once the capture has begun, it is lost
  instrument.process.reset();             // its connection is looked at
  const Diagnosis why =
      diagnose(instrument.spec,
               {"it does not answer", "check the cable, and that it is switched on and sending"});
  miss(instrument,
       InputError(ExitStatus::kNoInstrument, instrument.spec.text, "", why.what, why.mend),
       why.may_come, waiting);
}

void Supervisor::miss(Instrument& instrument, const InputError& why, bool may_come,
                      Waiting& waiting) {
  if (!may_come || now_s_() >= waiting.until_s) throw why;
  if (!waiting.told)
    listener_.on_remark(fmt::format("waiting {:.0f} s at most: {}", waiting.most_s, why.what()));
  waiting.told = true;
  instrument.process.reset();
  instrument.channels.clear();
  instrument.tried_s = now_s_();
}

void Supervisor::number_channels() {
  for (const Instrument& instrument : instruments_)
    for (const v1::InstrumentMessage::Channel& channel : instrument.channels) {
      if (!number_of_.emplace(channel.name(), channels_.size()).second)
        throw InputError(ExitStatus::kUsage, instrument.spec.text, "",
                         fmt::format("two channels are called '{}'", channel.name()),
                         "name them apart with :as=NAME,NAME");
      channels_.push_back(channel);
    }
}

void Supervisor::begin() {
  for (auto& [instrument, message] : early_) take(*instrument, message);
  early_.clear();
}

void Supervisor::poll(int wait_ms) const {
  std::vector<pollfd> waits;
  for (const Instrument& instrument : instruments_)
    if (instrument.process) waits.push_back({instrument.process->fd(), POLLIN, 0});
  ::poll(waits.data(), waits.size(), wait_ms);
}

void Supervisor::serve(int wait_ms) {
  poll(wait_ms);
  for (Instrument& instrument : instruments_) serve(instrument);
}

void Supervisor::serve(Instrument& instrument) {
  const double now_s = now_s_();
  if (!instrument.process) {
    if (now_s - instrument.tried_s > kAgain_s) launch(instrument);
    return;
  }
  std::vector<v1::InstrumentMessage> messages;
  const bool alive = instrument.process->read(messages);
  for (const auto& message : messages) {
    if (!message.complaint().empty()) instrument.complaint = message.complaint();
    if (message.has_block()) take(instrument, message);
  }
  const double patience_s = std::max(kSilent_s, 3 * instrument.period_s);
  if (alive && now_s - instrument.received_s <= patience_s) return;
  if (!instrument.lost)
    listener_.on_remark(
        fmt::format("LOST: {}{}", instrument.spec.text,
                    instrument.complaint.empty() ? "" : " (" + instrument.complaint + ")"));
  instrument.lost = true;
  instrument.process.reset();  // it may hang or spin: it is killed
  instrument.tried_s = now_s;
}

void Supervisor::end() {
  for (const Instrument& instrument : instruments_)
    if (instrument.process) instrument.process->ask_to_end();
  for (Instrument& instrument : instruments_) drain(instrument);
  for (Instrument& instrument : instruments_) tell_lost_values(instrument);
}

void Supervisor::drain(Instrument& instrument) {
  double received_s = now_s_();
  bool alive = instrument.process != nullptr;
  while (alive && now_s_() - received_s < kEnding_s) {
    wait_for(*instrument.process, 50);
    std::vector<v1::InstrumentMessage> messages;
    alive = instrument.process->read(messages);
    if (!messages.empty()) received_s = now_s_();
    for (const auto& message : messages) {
      if (message.has_block())
        take(instrument, message);
      else if (message.complaint().empty())
        follow(instrument, message);  // its last messages
    }
  }
  instrument.process.reset();
}

void Supervisor::take(Instrument& instrument, const v1::InstrumentMessage& message) {
  const v1::SampleBlock& block = message.block();
  const auto at = number_of_.find(block.channel());
  if (at == number_of_.end() || block.values().empty()) return;
  const double now_s = now_s_();
  if (instrument.lost) listener_.on_remark("back again: " + instrument.spec.text);
  instrument.lost = false;
  instrument.complaint.clear();
  follow(instrument, message);
  if (block.times_ns_size() > 0)
    instrument.period_s =
        std::max(0.9 * instrument.period_s, std::min(10.0, now_s - instrument.received_s));
  instrument.received_s = now_s;
  listener_.on_block(at->second, block);
}

// Its queue and its clock. What a full queue lost leaves a GAP in the events too.
void Supervisor::follow(Instrument& instrument, const v1::InstrumentMessage& message) {
  if (message.lost_values() > instrument.lost_values)
    instrument.untold_values += message.lost_values() - instrument.lost_values;
  instrument.lost_values = message.lost_values();
  if (now_s_() - instrument.told_s >= kTold_s) tell_lost_values(instrument);
  const double before = instrument.queue_share;
  instrument.queue_share = static_cast<double>(message.queue_share());
  if (before < kQueueReported && instrument.queue_share >= kQueueReported)
    listener_.on_remark(
        fmt::format("this computer does not keep up with {}: its queue is {:.0f} % full",
                    instrument.spec.text, 100 * instrument.queue_share));
  instrument.drift_ppm = message.drift_ppm();
  instrument.drift_u_ppm = message.drift_u_ppm();
}

void Supervisor::tell_lost_values(Instrument& instrument) {
  if (instrument.untold_values == 0) return;
  listener_.on_remark(
      fmt::format("THIS COMPUTER IS TOO SLOW: {} values of {} lost; lower samplerate=",
                  instrument.untold_values, instrument.spec.text));
  lost_values_ += instrument.untold_values;
  instrument.untold_values = 0;
  instrument.told_s = now_s_();
}

std::vector<std::string> Supervisor::lost() const {
  std::vector<std::string> texts;
  for (const Instrument& instrument : instruments_)
    if (instrument.lost) texts.push_back(instrument.spec.text);
  return texts;
}

double Supervisor::fullest_queue() const {
  double share = 0;
  for (const Instrument& instrument : instruments_) share = std::max(share, instrument.queue_share);
  return share;
}

std::vector<std::string> Supervisor::clock_remarks() const {
  std::vector<std::string> remarks;
  for (const Instrument& instrument : instruments_)
    if (instrument.drift_u_ppm > 0)
      remarks.push_back(fmt::format("the clock of {} ran {:.1f} ± {:.1f} ppm {} (95 %); taken out",
                                    instrument.spec.text, std::abs(instrument.drift_ppm),
                                    2 * instrument.drift_u_ppm,
                                    instrument.drift_ppm > 0 ? "fast" : "slow"));
  return remarks;
}

}  // namespace airlatch
