// SPDX-License-Identifier: GPL-3.0-or-later
// run_waves.hpp: runs of a pump drawn with straight lines, so that every instant is known.
//
// At a start the feed steps to 12 V, the current rises to 10 A in 2 ms (10 % after 0.2 ms), falls
// to 3 A by 60 ms; the pressure moves on a line. At a stop the current falls from 3 A to 0 in 1 ms
// (50 % after 0.5 ms). The supply sags by 50 mohm, the feed path has 100 mohm.
#pragma once
#include "tests/support/decode.hpp"

namespace airlatch::test {

class RunWaves {
 public:
  static constexpr double kStartLate_s = 0.0002, kStopLate_s = 0.0005;
  static constexpr double kPeak_a = 10, kRun_a = 3, kSource_v = 12, kSource_ohm = 0.05,
                          kFeedPath_ohm = 0.1;
  enum class End { kCutOff, kFeedOff, kNever };

  explicit RunWaves(std::int64_t rate_hz)
      : supply(rate_hz), feed_a(rate_hz), feed_b(rate_hz), motor(rate_hz), line(rate_hz) {}

  RunWaves& rest(double until_s) {
    supply.hold(kSource_v, until_s);
    feed_a.hold(0, until_s);
    feed_b.hold(0, until_s);
    motor.hold(0, until_s);
    line.hold(kpa_, until_s);
    now_s_ = until_s;
    return *this;
  }
  // Feeds a contact and draws nothing.
  RunWaves& dead(Contact contact, double until_s) {
    supply.hold(kSource_v, until_s);
    fed(contact).hold(kSource_v, until_s);
    other(contact).hold(0, until_s);
    motor.hold(0, until_s);
    line.hold(kpa_, until_s);
    now_s_ = until_s;
    return *this;
  }
  // A run from now to stop_s; after a cut-off the feed stays until feed_until_s.
  RunWaves& run(Contact contact, double stop_s, double to_kpa, End end, double feed_until_s = 0) {
    motor.hold(0, now_s_).line(kPeak_a, now_s_ + 0.002).line(kRun_a, now_s_ + 0.06);
    motor.hold(kRun_a, stop_s);
    follow(contact, stop_s);
    line.hold(kpa_, now_s_).line(to_kpa, stop_s);
    kpa_ = to_kpa;
    now_s_ = stop_s;
    if (end == End::kNever) return *this;
    motor.line(0, stop_s + 0.001);
    line.hold(kpa_, stop_s + 0.001);
    now_s_ = stop_s + 0.001;
    if (end == End::kFeedOff) return rest(now_s_);
    return dead(contact, feed_until_s);
  }
  [[nodiscard]] Waves all() const {
    return {{Role::SUPPLY_VOLTAGE, supply},
            {Role::FEED_A_VOLTAGE, feed_a},
            {Role::FEED_B_VOLTAGE, feed_b},
            {Role::MOTOR_CURRENT, motor},
            {Role::LINE_PRESSURE, line}};
  }
  // With the noise of a 12-bit meter on everything.
  RunWaves& noise(std::uint64_t seed) {
    supply.noise(0.006, seed);
    feed_a.noise(0.006, seed + 1);
    feed_b.noise(0.006, seed + 2);
    motor.noise(0.012, seed + 3);
    line.noise(0.05, seed + 4);
    return *this;
  }

  Wave supply, feed_a, feed_b, motor, line;

 private:
  Wave& fed(Contact contact) { return contact == Contact::A ? feed_a : feed_b; }
  Wave& other(Contact contact) { return contact == Contact::A ? feed_b : feed_a; }
  void follow(Contact contact, double until_s) {
    // Voltages follow the current that is drawn already.
    for (std::size_t k = supply.values.size(); k < motor.values.size(); ++k) {
      const double a = motor.values[k];
      supply.values.push_back(static_cast<float>(kSource_v - kSource_ohm * a));
      fed(contact).values.push_back(
          static_cast<float>(kSource_v - (kSource_ohm + kFeedPath_ohm) * a));
      other(contact).values.push_back(0);
    }
    supply.hold(kSource_v, until_s);
    fed(contact).hold(kSource_v, until_s);
    other(contact).hold(0, until_s);
  }

  double now_s_ = 0, kpa_ = 0;
};

}  // namespace airlatch::test
