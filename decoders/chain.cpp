// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/chain.hpp"

#include <algorithm>
#include <stdexcept>

#include "decoders/clipped.hpp"
#include "decoders/direction_reversal.hpp"
#include "decoders/dropout.hpp"
#include "decoders/feed.hpp"
#include "decoders/gap.hpp"
#include "decoders/leak_decay.hpp"
#include "decoders/locked_rotor.hpp"
#include "decoders/motor_current.hpp"
#include "decoders/motor_start.hpp"
#include "decoders/motor_stop.hpp"
#include "decoders/no_response.hpp"
#include "decoders/quiet.hpp"
#include "decoders/restart.hpp"
#include "decoders/run_on.hpp"
#include "decoders/stream/rig_scale.hpp"
#include "decoders/stream/slicer.hpp"

namespace airlatch {

struct Chain::Inner {
  CaptureContext context;
  std::vector<RigScale> scales;  // one a channel
  std::vector<Role> roles;
  std::vector<Readings> readings;
  std::vector<std::unique_ptr<Decoder>> decoders;
  std::vector<BlockDecoder*> block_decoders;  // those of them
  std::unique_ptr<Slicer> slicer;
  std::vector<SampleBlock> scaled;
  double last_s = 0;  // newest sample of any channel

  // THE LIST: one line a decoder, lowest first. Each receives the edges and events of those above
  // it in this list.
  void build() {
    add(std::make_unique<Gap>(context));
    add(std::make_unique<Clipped>(context));
    add(std::make_unique<MotorCurrent>(context));
    add(std::make_unique<Feed>(context));
    add(std::make_unique<Quiet>(context));
    add(std::make_unique<MotorStart>(context));
    add(std::make_unique<Dropout>(context));
    add(std::make_unique<MotorStop>(context));
    add(std::make_unique<DirectionReversal>(context));
    add(std::make_unique<Restart>(context));
    add(std::make_unique<NoResponse>(context));
    add(std::make_unique<RunOn>(context));
    add(std::make_unique<LockedRotor>(context));
    add(std::make_unique<LeakDecay>(context));
  }
  void add(std::unique_ptr<Decoder> decoder) {
    if (auto* looks = dynamic_cast<BlockDecoder*>(decoder.get())) block_decoders.push_back(looks);
    decoders.push_back(std::move(decoder));
  }

  void on_slice(const std::vector<SampleBlock>& blocks, std::int64_t start_ns, std::int64_t end_ns);
};

Chain::Chain(const std::vector<ChainChannel>& channels, const ChainSettings& settings)
    : inner_(std::make_unique<Inner>()) {
  Inner& in = *inner_;
  in.context.rig = settings.rig;
  if (settings.plan.response_limit_s.has_value())
    in.context.response_limit_s = *settings.plan.response_limit_s;
  if (settings.plan.run_limit_s.has_value()) in.context.run_limit_s = *settings.plan.run_limit_s;
  if (settings.rig.nominal_voltage_v > 0) in.context.nominal_v = settings.rig.nominal_voltage_v;
  in.context.directions.contact_a = settings.rig.contact_a_direction;
  for (const ChainChannel& channel : channels) {
    const auto role = static_cast<std::size_t>(channel.rig.role);
    if (role == 0 || role >= kRoles || in.context.present[role])
      throw std::invalid_argument("a chain takes one channel a role");
    in.context.present[role] = true;
    in.context.channel[role] = channel.rig;
    if (channel.rig.role == Role::COMMAND_LEVEL) in.context.command_is_logic = channel.logic;
    in.scales.emplace_back(channel.rig);
    in.roles.push_back(channel.rig.role);
    in.readings.emplace_back(channel.rig.role);
  }
  if (settings.look_at_every_sample)
    for (Track& track : in.context.tracks) track.rule_nothing_out();
  in.build();
  for (const auto& make : settings.more) in.add(make(in.context));
  for (std::size_t i = 0; i < in.decoders.size(); ++i) {
    // The host receives an event before the events that follow from it.
    in.decoders[i]->events.connect([this](const Event& event) { on_event(event); });
    for (std::size_t above = i + 1; above < in.decoders.size(); ++above) {
      Decoder* listener = in.decoders[above].get();
      in.decoders[i]->edges.connect([listener](const Edge& edge) { listener->on_edge(edge); });
      in.decoders[i]->events.connect([listener](const Event& event) { listener->on_event(event); });
    }
  }
  in.slicer = std::make_unique<Slicer>(
      channels.size(), [&in](const auto& blocks, std::int64_t t0_ns, std::int64_t end_ns) {
        in.on_slice(blocks, t0_ns, end_ns);
      });
}

Chain::~Chain() = default;

void Chain::Inner::on_slice(const std::vector<SampleBlock>& blocks, std::int64_t start_ns,
                            std::int64_t end_ns) {
  context.t0_ns = start_ns;
  for (const SampleBlock& raw : blocks) {
    RigScale& scale = scales[raw.channel];
    const SampleBlock block = scale.apply(raw, start_ns);
    const auto role = static_cast<std::size_t>(block.role);
    context.zero_readings[role] = scale.zero_readings();
    context.tracks[role].append(block, start_ns);
    readings[raw.channel].take(block, context.tracks[role].latest().extremes, scale.zero(),
                               start_ns);
    const double newest_s = context.seconds(block.time_ns(block.values.size() - 1));
    last_s = std::max(last_s, newest_s);
    for (BlockDecoder* decoder : block_decoders) decoder->on_block(block);
  }
  const double now_s = context.seconds(end_ns);
  for (const auto& decoder : decoders) decoder->on_tick(now_s);
}

void Chain::push(const SampleBlock& raw) { inner_->slicer->push(raw); }

void Chain::end_channel(std::size_t channel) {
  if (channel < inner_->roles.size() && !inner_->slicer->seen(channel))
    inner_->context.present[static_cast<std::size_t>(inner_->roles[channel])] = false;
  inner_->slicer->end_channel(channel);
}

void Chain::advance(std::int64_t until_ns) { inner_->slicer->advance(until_ns); }

void Chain::finish() {
  inner_->slicer->finish();
  for (std::size_t role = 0; role < kRoles; ++role)  // none at all: it was not measured
    if (inner_->context.tracks[role].end() == 0) inner_->context.present[role] = false;
  for (const auto& decoder : inner_->decoders) decoder->finish(inner_->last_s);
}

std::int64_t Chain::dropped() const { return inner_->slicer->dropped(); }

const Readings& Chain::readings(std::size_t channel) const { return inner_->readings.at(channel); }

}  // namespace airlatch
