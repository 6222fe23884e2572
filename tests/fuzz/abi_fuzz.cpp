// SPDX-License-Identifier: GPL-3.0-or-later
// Random call sequences against the C ABI: null pointers, huge counts, NaN, times going backwards,
// wrong channels. Nothing may crash, hang, print or leak; every answer must be a known status.
#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <vector>

#include "plugin/airlatch.h"

namespace {

constexpr std::int64_t kFar_ns = 8'000'000'000'000'000'000;

class Bytes {
 public:
  Bytes(const std::uint8_t* data, std::size_t size) : data_(data), left_(size) {}
  [[nodiscard]] bool any() const { return left_ > 0; }
  std::uint8_t byte() {
    if (left_ == 0) return 0;
    --left_;
    return *data_++;
  }
  std::uint64_t word() {
    std::uint64_t w = 0;
    for (int k = 0; k < 8; ++k) w = w << 8 | byte();
    return w;
  }
  // Mostly small and near the time before, now and then anything at all.
  std::int64_t time_ns(std::int64_t near) {
    near = std::clamp(near, -kFar_ns, kFar_ns);
    const std::uint8_t kind = byte();
    if (kind < 200)
      return near + static_cast<std::int64_t>(byte()) * 1'000'000 - (kind < 8 ? 50'000'000 : 0);
    if (kind < 230) return near + static_cast<std::int64_t>(byte()) * 1'000'000'000;
    return static_cast<std::int64_t>(word());
  }
  float value() {
    switch (byte() % 8) {
      case 0:
        return std::numeric_limits<float>::quiet_NaN();
      case 1:
        return std::numeric_limits<float>::infinity();
      case 2: {
        const auto bits = static_cast<std::uint32_t>(word());
        float f = 0;
        std::memcpy(&f, &bits, sizeof f);
        return f;
      }
      case 3:
        return 0;
      default:
        return static_cast<float>(byte()) / 16.0F;
    }
  }

 private:
  const std::uint8_t* data_;
  std::size_t left_;
};

void check(airlatch_status status) {
  if (status < AIRLATCH_OK || status > AIRLATCH_BROKEN) std::abort();
}

void on_event(const void* event, std::size_t size, void* context) {
  // Reads every byte, so that a bad pointer shows.
  unsigned int sum = 0;
  for (std::size_t i = 0; i < size; ++i) sum += static_cast<const unsigned char*>(event)[i];
  if (context) *static_cast<unsigned int*>(context) += sum;  // an old host's options have none
}

constexpr std::array<const char*, 11> kNames = {"supply_v", "feed_a_v", "feed_b_v",   "return_v",
                                                "motor_a",  "line_kpa", "branch_kpa", "air_c",
                                                "command",  "other",    "CH1"};
constexpr char kRig[] =
    "channel { source: \"CH1\" role: LINE_PRESSURE scale: 2 range_min: -100 range_max: 100 "
    "u_abs: 0.3 } line_volume_ml: 250 commutator_segments: 10";

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Bytes in(data, size);
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  std::vector<airlatch_channel> channels;
  const std::size_t count = 1 + in.byte() % 6;
  for (std::size_t c = 0; c < count; ++c)
    channels.push_back({in.byte() == 255 ? nullptr : kNames[in.byte() % kNames.size()],
                        in.byte() % 16U == 0 ? AIRLATCH_LOGIC : 0U});
  options.channels = channels.data();
  options.channel_count = channels.size();
  unsigned int sum = 0;
  options.context = &sum;
  const std::uint8_t how = in.byte();
  if (how % 2) options.on_event = on_event;
  options.event_format = how == 255 ? in.word() : how / 2 % 2;
  std::vector<char> setup;
  switch (in.byte() % 4) {
    case 0:
      options.rig = kRig;
      options.rig_size = sizeof kRig - 1;
      break;
    case 1:  // anything at all as a rig
      for (std::size_t k = in.byte(); k > 0; --k) setup.push_back(static_cast<char>(in.byte()));
      options.rig = setup.data();
      options.rig_size = setup.size();
      options.format = in.byte() % 3;
      break;
    case 2:
      options.plan = "bench-pump";
      options.plan_size = 10;
      break;
    default:
      break;
  }
  if (in.byte() == 0) options.struct_size = in.byte();
  airlatch_decoder* decoder = nullptr;
  check(airlatch_create(&options, in.byte() == 0 ? nullptr : &decoder));
  std::array<std::int64_t, 8> now = {};
  std::vector<float> floats;
  std::vector<double> doubles;
  std::vector<std::int64_t> times;
  while (in.any()) {
    const std::uint8_t what = in.byte();
    if (what < 200) {  // a block
      airlatch_block block = {};
      block.struct_size = what == 199 ? in.byte() : sizeof block;
      block.channel = what == 198 ? static_cast<std::uint32_t>(in.word()) : in.byte() % 8U;
      std::int64_t& t = now[block.channel % 8];
      const std::size_t n = what < 180 ? in.byte() % 64U : in.byte() * 16U;
      floats.clear();
      times.clear();
      const float level = in.value();
      for (std::size_t k = 0; k < n; ++k) floats.push_back(what % 4 == 0 ? in.value() : level);
      doubles.assign(floats.begin(), floats.end());
      block.count = n;
      if (what % 2) {
        for (std::size_t k = 0; k < n; ++k) {
          t = in.time_ns(t);
          times.push_back(t);
        }
        block.times_ns = times.data();
      } else {
        block.start_ns = in.byte() < 230 ? t : in.time_ns(t);
        block.period_num_ns =
            what == 196 ? static_cast<std::int64_t>(in.word()) : 1 + in.byte() * 100'000;
        block.period_den = what == 194 ? static_cast<std::int64_t>(in.word()) : 1;
        t = block.start_ns / 2 * 2;
        if (block.period_num_ns > 0 && block.period_num_ns < 1'000'000'000 &&
            block.start_ns < (std::int64_t{1} << 61))
          t = block.start_ns + static_cast<std::int64_t>(n) * block.period_num_ns;
      }
      if (what % 8 < 6)
        block.floats = floats.data();
      else
        block.doubles = doubles.data();
      if (what == 193) block.count = std::numeric_limits<std::size_t>::max() - in.byte();
      check(airlatch_push(decoder, what == 192 ? nullptr : &block));
    } else if (what < 215) {
      check(airlatch_flush(decoder, in.time_ns(now[in.byte() % 8])));
    } else if (what < 230) {
      const void* event = nullptr;
      std::size_t bytes = 0;
      check(airlatch_poll(decoder, what == 229 ? nullptr : &event, &bytes));
      if (event) on_event(event, bytes, &sum);
    } else if (what < 235) {
      check(airlatch_end_channel(decoder, in.byte() % 9U));
    } else if (what < 240) {
      check(airlatch_finish(decoder));
    } else if (what < 245) {
      const void* report = nullptr;
      std::size_t bytes = 0;
      check(airlatch_report(decoder, &report, what == 244 ? nullptr : &bytes));
    } else if (what < 250) {
      check(airlatch_reset(decoder));
      now = {};
    } else {
      std::int64_t dropped = 0;
      check(airlatch_dropped(decoder, &dropped));
      sum += static_cast<unsigned int>(std::strlen(airlatch_last_error(decoder)));
    }
  }
  check(airlatch_destroy(decoder));
  return 0;
}
