// SPDX-License-Identifier: GPL-3.0-or-later
// packet_reader.hpp: libsigrok's packets of one device to InstrumentMessages.
//
// In    analog and logic packets, as libsigrok hands them out; the host's clock.
// Out   sample blocks, through `send`, in order within each channel.
// How   Evenly sampled devices: the arrival of their first packet less its length, then their own
//       rate, followed against the host's clock (ClockFollower). Meters: the arrival of each
//       reading. When a meter's connection is closed, one reading of 0.0 appears; so a zero is
//       held back until the next reading.
#pragma once
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "airlatch/v1/sample.pb.h"
#include "plugin/live/clock_follower.hpp"

struct sr_analog_encoding;
struct sr_channel;
struct sr_datafeed_analog;
struct sr_datafeed_logic;

namespace airlatch {

class PacketReader {
 public:
  // `rate_hz`: 0 for a meter. `now_ns`: the host's clock.
  PacketReader(std::uint64_t rate_hz, std::function<void(v1::InstrumentMessage&)> send,
               std::function<std::int64_t()> now_ns);
  void add_channel(const sr_channel* channel, const std::string& name);
  void read(const sr_datafeed_analog& analog);
  void read(const sr_datafeed_logic& logic);
  // Of the device's clock, ppm; u = 0: not known.
  [[nodiscard]] Uncertain drift_ppm() const { return clock_ ? clock_->drift_ppm() : Uncertain{}; }

 private:
  struct Lane {
    std::string name;
    std::int64_t done = 0;
    bool has_zero = false;  // a reading of exactly 0 that is held back
    std::int64_t zero_ns = 0;
  };
  void send(Lane& lane, const std::vector<float>& values);
  void send_sampled(Lane& lane, const std::vector<float>& values, std::int64_t arrival_ns);
  void send_readings(Lane& lane, const std::vector<float>& values, std::int64_t arrival_ns);
  void send_at(const Lane& lane, const std::vector<float>& values, std::int64_t time_ns);

  std::uint64_t rate_hz_;
  std::function<void(v1::InstrumentMessage&)> send_;
  std::function<std::int64_t()> now_ns_;
  std::optional<ClockFollower> clock_;
  std::map<const sr_channel*, Lane> lanes_;
};

// One value of an analog packet. Our own conversion: libsigrok's is right for a few encodings only.
// An encoding that nobody can read gives missing values (NaN), never invented ones.
double analog_value(const sr_analog_encoding& encoding, const void* data, std::size_t index);

}  // namespace airlatch
