// SPDX-License-Identifier: GPL-3.0-or-later
// context.hpp: what all decoders of one capture share: its zero of time, the recent samples of
// every role, the rig's facts, and what has been learnt about contacts and directions.
#pragma once
#include <array>
#include <optional>
#include <string_view>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/method/uncertainty.hpp"
#include "decoders/noise_book.hpp"
#include "decoders/setup.hpp"
#include "decoders/stream/track.hpp"

namespace airlatch {

// Which way each contact drives the pump, learnt from runs whose pressure showed the direction.
// The sign of the current is learnt beside it, for rigs without feed channels.
struct DirectionBook {
  Direction contact_a = Direction::UNKNOWN;
  // A clamp on the common lead shows one sign for both ways: the sign gives the direction only
  // once runs of both signs have been seen to go opposite ways.
  Direction positive_current = Direction::UNKNOWN, negative_current = Direction::UNKNOWN;

  [[nodiscard]] Direction of(Contact contact, double current_sign) const;
  void learn(Contact contact, double current_sign, Direction direction);
};

// When each channel stood at its range limit, of late.
class ClipBook {
 public:
  void begin(Role role, double since_s);
  void last(Role role, double until_s);  // the newest sample at the limit
  [[nodiscard]] bool any(Role role, double from_s, double to_s) const;

 private:
  static constexpr std::size_t kKept = 64;
  struct Stretch {
    double since_s = 0, until_s = 0;
  };
  std::array<std::vector<Stretch>, kRoles> stretches_ = {};
};

struct CaptureContext {
  std::int64_t t0_ns = 0;  // the capture's first sample: events count seconds from it
  std::array<Track, kRoles> tracks;
  std::array<bool, kRoles> present = {};
  std::array<Rig::Channel, kRoles> channel = {};  // rig entry of each present role
  // Of how many readings a learnt zero is the mean (RigScale); 0: it was not learnt.
  std::array<std::int64_t, kRoles> zero_readings = {};
  Rig rig;
  double response_limit_s = 0.3, run_limit_s = 15, nominal_v = 12;
  bool command_is_logic = false;  // COMMAND_LEVEL is 0 or 1, not volts
  DirectionBook directions;
  double current_noise_a = 0;  // of one current reading at rest: ripple is not noise
  NoiseBook noise;
  ClipBook clips;

  // A block's time in seconds, as in events.
  [[nodiscard]] double seconds(std::int64_t time_ns) const {
    return static_cast<double>(time_ns - t0_ns) * 1e-9;
  }
  [[nodiscard]] bool has(Role role) const { return present[static_cast<std::size_t>(role)]; }
  [[nodiscard]] const Rig::Channel& entry(Role role) const {
    return channel[static_cast<std::size_t>(role)];
  }
  [[nodiscard]] const Track& track(Role role) const {
    return tracks[static_cast<std::size_t>(role)];
  }
  [[nodiscard]] const NoiseModel& noise_of(Role role) const { return noise.of(role, track(role)); }
  // Instrument uncertainty of one reading (rig u_abs, u_rel, a learnt zero's own), to be combined
  // with type A. For the motor current only u_rel remains: its zero is learnt at rest, which removes u_abs.
  [[nodiscard]] double u_instrument(Role role, double value) const;
  // Whether a reading stands at its sensor's range limit, so that the quantity may lie beyond it.
  [[nodiscard]] bool at_limit(Role role, double value) const;
  static constexpr double kLimitMargin = 5e-4;  // of the range: two steps of a 12-bit converter
  // Whether samples of the role are missing in [from_s, to_s), of what is kept.
  [[nodiscard]] bool has_hole(Role role, double from_s, double to_s) const;
  // The feed channel of a contact; COMMAND_LEVEL for NONE.
  static Role feed_role(Contact contact);
  // The contact whose feed was highest in [from_s, to_s), if it was up at all.
  [[nodiscard]] Contact fed_contact(double from_s, double to_s) const;
  [[nodiscard]] bool has_feed() const {
    return has(Role::FEED_A_VOLTAGE) || has(Role::FEED_B_VOLTAGE) || has(Role::COMMAND_LEVEL);
  }
};

}  // namespace airlatch
