// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/packet_reader.hpp"

#include <algorithm>
#include <cstring>
#include <limits>

#include "plugin/system/lazy/glib.hpp"
#include "plugin/system/lazy/sigrok.hpp"

namespace airlatch {
namespace {

// What airlatch measures, in its own units; anything else is left as it is.
double factor_of(int unit) { return unit == SR_UNIT_HECTOPASCAL ? 0.1 : 1; }

double ratio(const sr_rational& r, double otherwise) {
  return r.q ? static_cast<double>(r.p) / static_cast<double>(r.q) : otherwise;
}

}  // namespace

double analog_value(const sr_analog_encoding& e, const void* data, std::size_t index) {
  const bool known =
      e.is_float ? e.unitsize == 4 || e.unitsize == 8 : e.unitsize >= 1 && e.unitsize <= 8;
  if (!known) return std::numeric_limits<double>::quiet_NaN();
  const auto* from = static_cast<const unsigned char*>(data) + index * e.unitsize;
  std::uint64_t bits = 0;
  for (std::size_t k = 0; k < e.unitsize; ++k)
    bits = bits << 8 | from[e.is_bigendian ? k : e.unitsize - 1U - k];
  double value = 0;
  if (e.is_float && e.unitsize == 8) {
    std::memcpy(&value, &bits, 8);
  } else if (e.is_float) {
    const auto word = static_cast<std::uint32_t>(bits);
    float f = 0;
    std::memcpy(&f, &word, 4);
    value = static_cast<double>(f);
  } else if (e.is_signed) {
    const unsigned shift = 64U - 8U * e.unitsize;
    value = static_cast<double>(static_cast<std::int64_t>(bits << shift) >> shift);
  } else {
    value = static_cast<double>(bits);
  }
  return value * ratio(e.scale, 1) + ratio(e.offset, 0);
}

PacketReader::PacketReader(std::uint64_t rate_hz, std::function<void(v1::InstrumentMessage&)> send,
                           std::function<std::int64_t()> now_ns)
    : rate_hz_(rate_hz), send_(std::move(send)), now_ns_(std::move(now_ns)) {}

void PacketReader::add_channel(const sr_channel* channel, const std::string& name) {
  lanes_[channel] = {name};
}

void PacketReader::read(const sr_datafeed_analog& analog) {
  const std::size_t stride = lazy::g_slist_length(analog.meaning->channels);
  const double factor = factor_of(static_cast<int>(analog.meaning->unit));
  std::size_t at = 0;
  for (const GSList* l = analog.meaning->channels; l; l = l->next, ++at) {
    const auto lane = lanes_.find(static_cast<const sr_channel*>(l->data));
    if (lane == lanes_.end()) continue;
    std::vector<float> values;
    for (std::size_t i = 0; i < analog.num_samples; ++i)
      values.push_back(static_cast<float>(
          factor * analog_value(*analog.encoding, analog.data, i * stride + at)));
    send(lane->second, values);
  }
}

void PacketReader::read(const sr_datafeed_logic& logic) {
  if (logic.unitsize == 0) return;
  const std::size_t count = logic.length / logic.unitsize;
  for (auto& [channel, lane] : lanes_) {
    const auto byte = static_cast<std::size_t>(channel->index) / 8;
    if (channel->type != SR_CHANNEL_LOGIC || byte >= logic.unitsize) continue;
    std::vector<float> values;
    for (std::size_t i = 0; i < count; ++i) {
      const unsigned char bits =
          static_cast<const unsigned char*>(logic.data)[i * logic.unitsize + byte];
      values.push_back(static_cast<float>(bits >> (channel->index % 8) & 1));
    }
    send(lane, values);
  }
}

void PacketReader::send(Lane& lane, const std::vector<float>& values) {
  if (values.empty()) return;
  const std::int64_t arrival_ns = now_ns_();
  if (rate_hz_ == 0)
    send_readings(lane, values, arrival_ns);
  else
    send_sampled(lane, values, arrival_ns);
}

void PacketReader::send_sampled(Lane& lane, const std::vector<float>& values,
                                std::int64_t arrival_ns) {
  const std::int64_t count = lane.done + std::ssize(values);
  if (!clock_) clock_.emplace(static_cast<std::int64_t>(rate_hz_), arrival_ns, count);
  if (&lane == &lanes_.begin()->second) clock_->arrived(arrival_ns, count);
  std::int64_t until = 0;
  for (std::size_t from = 0, to = 0; from < values.size(); from = to) {
    const ClockFollower::Piece piece = clock_->piece_of(lane.done, &until);
    to = static_cast<std::size_t>(std::min<std::int64_t>(
        std::ssize(values), until - lane.done + static_cast<std::int64_t>(from)));
    v1::InstrumentMessage message;
    auto& block = *message.mutable_block();
    block.set_channel(lane.name);
    block.mutable_clock()->set_start_ns(piece.clock.start_ns);
    block.mutable_clock()->set_period_num_ns(piece.clock.num_ns);
    block.mutable_clock()->set_period_den(piece.clock.den);
    block.set_first_index(lane.done - piece.from);
    block.mutable_values()->Add(values.begin() + static_cast<std::ptrdiff_t>(from),
                                values.begin() + static_cast<std::ptrdiff_t>(to));
    lane.done += static_cast<std::int64_t>(to - from);
    send_(message);
  }
}

void PacketReader::send_readings(Lane& lane, const std::vector<float>& values,
                                 std::int64_t arrival_ns) {
  if (lane.has_zero) send_at(lane, {0.0F}, lane.zero_ns);
  lane.has_zero = values.back() == 0.0F;
  lane.zero_ns = arrival_ns;
  const std::vector<float> sure(values.begin(), values.end() - (lane.has_zero ? 1 : 0));
  if (!sure.empty()) send_at(lane, sure, arrival_ns);
}

void PacketReader::send_at(const Lane& lane, const std::vector<float>& values,
                           std::int64_t time_ns) {
  v1::InstrumentMessage message;
  auto& block = *message.mutable_block();
  block.set_channel(lane.name);
  for (std::size_t k = 0; k < values.size(); ++k)  // several of one packet: all arrived now
    block.add_times_ns(time_ns + static_cast<std::int64_t>(k));
  block.mutable_values()->Add(values.begin(), values.end());
  send_(message);
}

}  // namespace airlatch
