// context.hpp: what all decoders of one capture share: its zero of time, the recent samples of
// every role, the rig's facts, and what has been learnt about contacts and directions.
#pragma once
#include <array>
#include <optional>
#include <string_view>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/setup.pb.h"
#include "decoders/method/uncertainty.hpp"
#include "decoders/stream/track.hpp"

namespace airlatch {

constexpr std::size_t kRoles = v1::Role_ARRAYSIZE;

// Which way each contact drives the pump, learnt from runs whose pressure told the direction.
// The sign of the current is learnt beside it, for rigs without feed channels.
struct DirectionBook {
  v1::Direction contact_a = v1::UNKNOWN;
  // A clamp on the common lead shows one sign for both ways: the sign tells the direction only
  // once runs of both signs have been seen to go opposite ways.
  v1::Direction positive_current = v1::UNKNOWN, negative_current = v1::UNKNOWN;

  [[nodiscard]] v1::Direction of(v1::Contact contact, double current_sign) const;
  void learn(v1::Contact contact, double current_sign, v1::Direction direction);
};

v1::Direction opposite(v1::Direction direction);

struct CaptureContext {
  std::int64_t t0_ns = 0;  // the capture's first sample: events count seconds from it
  std::array<Track, kRoles> tracks;
  std::array<bool, kRoles> present = {};
  std::array<v1::Rig::Channel, kRoles> channel = {};  // rig entry of each present role
  v1::Rig rig;
  double response_limit_s = 0.3, run_limit_s = 15, nominal_v = 12;
  bool command_is_logic = false;  // COMMAND_LEVEL is 0 or 1, not volts
  DirectionBook directions;
  double current_noise_a = 0;  // of one current reading at rest: ripple is no noise

  // A block's time as events count it.
  [[nodiscard]] double seconds(std::int64_t time_ns) const {
    return static_cast<double>(time_ns - t0_ns) * 1e-9;
  }
  [[nodiscard]] bool has(v1::Role role) const { return present[static_cast<std::size_t>(role)]; }
  [[nodiscard]] const Track& track(v1::Role role) const {
    return tracks[static_cast<std::size_t>(role)];
  }
  // Instrument uncertainty of one reading (rig u_abs, u_rel), to be combined with type A. Of the
  // motor current only u_rel is left: its zero is learnt at rest, and takes u_abs out.
  [[nodiscard]] double u_instrument(v1::Role role, double value) const;
  // Whether a reading stands at its sensor's range limit, so that the quantity may lie beyond it.
  [[nodiscard]] bool at_limit(v1::Role role, double value) const;
  static constexpr double kLimitMargin = 5e-4;  // of the range: two steps of a 12-bit converter
  // The feed channel of a contact; COMMAND_LEVEL for NONE.
  static v1::Role feed_role(v1::Contact contact);
  // The contact whose feed was highest in [from_s, to_s), if it was up at all.
  [[nodiscard]] v1::Contact fed_contact(double from_s, double to_s) const;
  [[nodiscard]] bool has_feed() const {
    return has(v1::FEED_A_VOLTAGE) || has(v1::FEED_B_VOLTAGE) || has(v1::COMMAND_LEVEL);
  }
};

// Adds a measure with its unit to an event.
void add_measure(v1::Event& event, const char* name, Uncertain value, const char* unit);
void add_note(v1::Event& event, const std::string& text);
// The event's measure of that name, or nothing.
const v1::Measure* find_measure(const v1::Event& event, std::string_view name);

}  // namespace airlatch
