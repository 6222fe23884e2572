// SPDX-License-Identifier: GPL-3.0-or-later
// What is easily taken for something else in a workshop, and must not be.
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "plugin/message/event_json.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "tests/support/run_waves.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

std::map<Kind, int> kinds(const std::vector<Event>& events) {
  std::map<Kind, int> out;
  for (const Event& event : events) ++out[event.kind];
  return out;
}

// The classic false pass: a feed taken away just before the limit is no cut-off, one taken away
// just after it does not undo the cut-off.
TEST(Confusions, AFeedTakenAwayAtTheLimit) {
  for (const double after_s : {0.01, 0.03, 0.2}) {
    RunWaves waves(10000);
    waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 3.001 + after_s).rest(5).noise(1);
    EXPECT_EQ(kinds(decode(waves.all()))[Kind::STALL_CUTOFF], 1) << after_s;
  }
  for (const double before_s : {0.03, 0.01, 0.0}) {  // before the limit at 40 kPa
    RunWaves waves(10000);
    waves.rest(1)
        .run(Contact::A, 3 - before_s, 40 * (1 - before_s / 2), End::kFeedOff)
        .rest(5)
        .noise(2);
    auto found = kinds(decode(waves.all()));
    EXPECT_EQ(found[Kind::STALL_CUTOFF], 0) << before_s;
    EXPECT_EQ(found[Kind::MOTOR_STOP], 1) << before_s;
  }
}

TEST(Confusions, ADoorPulledByHandIsNoRun) {
  RunWaves waves(10000);
  waves.rest(6);
  waves.line.values.clear();
  Wave line(10000);
  line.hold(0, 2).line(6, 2.1).line(-3, 2.3).line(0, 3).hold(0, 6);
  waves.line = line;
  waves.noise(3);
  EXPECT_TRUE(decode(waves.all()).empty());
}

// In the wiring the feed goes with the current; behind a bad brush it stays.
TEST(Confusions, ALooseFeedAndABadBrush) {
  for (std::uint64_t seed = 31; seed < 36; ++seed) {
    const auto of = [&](const char* fault) {
      return kinds(
          decode_rehearsal(rehearse({.fault = fault, .rate_hz = 5000, .seed = seed, .hold_s = 5})));
    };
    auto wiring = of("contact-intermittent"), brush = of("motor-worn");
    EXPECT_EQ(wiring[Kind::DROPOUT], 3);
    EXPECT_EQ(wiring[Kind::FEED_OFF], 5);  // three breaks, two releases
    EXPECT_EQ(brush[Kind::DROPOUT], 3);
    EXPECT_EQ(brush[Kind::FEED_OFF], 2);
  }
}

// A thumb that closes the port half a second late: the pressure waits, the run does not.
TEST(Confusions, AThumbThatIsLate) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 4, 40, End::kCutOff, 5).rest(6);
  Wave line(10000);
  line.hold(0, 1.5).line(40, 4).hold(40, 6);
  waves.line = line;
  waves.noise(4);
  const auto events = decode(waves.all());
  const auto stop = of_kind(events, Kind::STALL_CUTOFF);
  ASSERT_EQ(stop.size(), 1U);
  EXPECT_EQ(stop[0].direction, Direction::PRESSURE);
  EXPECT_NEAR(measure(stop[0], "rise_rate"), 16, 0.2);  // 40 kPa in 2.5 s: from 10 % on
  EXPECT_NEAR(measure(stop[0], "run_time"), 3, 1e-3);
}

// Mains hum and ignition spikes ten times the noise: the same events as without.
TEST(Confusions, HumAndIgnition) {
  for (const char* fault : {"sound", "line-leak", "motor-open", "contact-intermittent"}) {
    Rehearsal r = rehearse({.fault = fault, .rate_hz = 10000, .seed = 41, .hold_s = 5});
    const auto clean = kinds(decode_rehearsal(r));
    const double noise[] = {0.006, 0.006, 0.006, 0.006, 0.012, 0.05};
    for (std::size_t c = 0; c < r.channels.size(); ++c)
      for (std::size_t k = 0; k < r.channels[c].values.size(); ++k) {
        const double t_s = static_cast<double>(k) / 10000;
        double more = 2 * noise[c] * std::sin(2 * 3.14159265 * 50 * t_s);
        if ((k + 37 * c) % 331 == 0) more += (k % 2 ? 10 : -10) * noise[c];
        r.channels[c].values[k] += static_cast<float>(more);
      }
    EXPECT_EQ(kinds(decode_rehearsal(r)), clean) << fault;
  }
}

// A pressure sensor stuck at a value: nothing is made of it.
TEST(Confusions, AStuckSensor) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(12).noise(5);
  Wave stuck(10000);
  stuck.hold(17.5, 12);
  waves.line = stuck;
  const auto events = decode(waves.all());
  const auto stop = of_kind(events, Kind::STALL_CUTOFF);
  ASSERT_EQ(stop.size(), 1U);
  EXPECT_EQ(stop[0].direction, Direction::UNKNOWN);
  EXPECT_EQ(find_measure(stop[0], "rise_rate"), nullptr);
  EXPECT_EQ(find_measure(stop[0], "end_pressure"), nullptr);
  EXPECT_EQ(missing(stop[0], "end_pressure"), MissingCode::IMPLAUSIBLE);
  EXPECT_TRUE(of_kind(events, Kind::LEAK_DECAY).empty());
}

// A meter of four readings a second sees no pause between two runs that follow each other within a
// tenth of a second: the contacts tell them apart where they are measured.
TEST(Confusions, RunsMergedByASlowMeter) {
  RunWaves waves(4);
  waves.rest(2.1).run(Contact::A, 5.05, 40, RunWaves::End::kFeedOff).rest(5.15);
  waves.run(Contact::B, 9.1, -40, RunWaves::End::kCutOff, 11).rest(14);
  const auto events = decode(waves.all());
  const auto stops = of_kind(events, Kind::STALL_CUTOFF);
  ASSERT_EQ(stops.size(), 1U);
  EXPECT_EQ(stops[0].contact, Contact::B);
  EXPECT_EQ(stops[0].direction, Direction::VACUUM);
  EXPECT_EQ(find_measure(stops[0], "run_time"), nullptr);  // 7 s would be wrong for both
  EXPECT_EQ(missing(stops[0], "run_time"), MissingCode::TOO_SLOW);
  // Drawn without noise: no figure may come out as none.
  for (const Event& event : events)
    for (const Measure& m : event.measures)
      EXPECT_TRUE(std::isfinite(m.value) && std::isfinite(m.u)) << event_json(event);
}

// Meters are not read at the same moment: the feed shows itself a reading after the current.
TEST(Confusions, MetersOutOfStep) {
  RunWaves waves(10);
  waves.rest(2.1).run(Contact::A, 6.05, 40, RunWaves::End::kCutOff, 9).rest(12);
  waves.noise(5);
  Waves all = waves.all();
  for (auto& [role, wave] : all)
    if (role == Role::FEED_A_VOLTAGE) wave.clock.start_ns += 170'000'000;
  const auto stops = of_kind(decode(all), Kind::STALL_CUTOFF);
  ASSERT_EQ(stops.size(), 1U);
  EXPECT_EQ(stops[0].contact, Contact::A);
}

}  // namespace
}  // namespace airlatch
