// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/trust.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

EventStore run_and_decay() {
  EventStore events;
  Event stop{.kind = Kind::STALL_CUTOFF, .time_s = 3};
  add_measure(stop, "run_time", {2.5, 0.1}, "s");
  add_measure(stop, "end_pressure", {410, 1}, "kPa");
  events.add(stop);
  events.add({.kind = Kind::LEAK_DECAY, .time_s = 4});
  return events;
}

TEST(Trust, WhatRestsOnADistrustedPressureIsLeftOut) {
  Distrusted distrusted = {};
  distrusted[static_cast<std::size_t>(Role::LINE_PRESSURE)] = true;
  const std::vector<Event> kept = trusted(run_and_decay(), distrusted).all();
  ASSERT_EQ(kept.size(), 1U);
  EXPECT_NE(find_measure(kept[0], "run_time"), nullptr);
  EXPECT_EQ(find_measure(kept[0], "end_pressure"), nullptr);
  EXPECT_EQ(find_missing(kept[0], "end_pressure")->code, MissingCode::IMPLAUSIBLE);
}

TEST(Trust, ARunIsSeenByItsCurrent) {
  Distrusted distrusted = {};
  distrusted[static_cast<std::size_t>(Role::MOTOR_CURRENT)] = true;
  const std::vector<Event> kept = trusted(run_and_decay(), distrusted).all();
  ASSERT_EQ(kept.size(), 1U);
  EXPECT_EQ(kept[0].kind, Kind::LEAK_DECAY);
}

TEST(Trust, WithoutDoubtsAllEventsStay) {
  EXPECT_EQ(trusted(run_and_decay(), {}).all(), run_and_decay().all());
}

}  // namespace
}  // namespace airlatch
