// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/event_store.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "plugin/message/wire.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

// What was put in comes out, by time, field for field.
TEST(EventStore, GivesBackWhatItWasGiven) {
  std::vector<Event> events =
      decode_rehearsal(rehearse({.fault = "line-leak", .rate_hz = 1000, .seed = 4, .hold_s = 6}));
  ASSERT_GT(events.size(), 8U);
  const EventStore store(events);
  std::stable_sort(events.begin(), events.end(),
                   [](const Event& a, const Event& b) { return a.time_s < b.time_s; });
  EXPECT_EQ(bytes(store.all()), bytes(events));
  std::size_t seen = 0;
  store.for_each([&](const Event& event) {
    EXPECT_EQ(to_wire(event), to_wire(events[seen]));
    EXPECT_EQ(store.kind(seen), event.kind);
    EXPECT_EQ(store.time_s(seen), event.time_s);
    EXPECT_EQ(store.contact(seen), event.contact);
    ++seen;
  });
  EXPECT_EQ(seen, events.size());
}

TEST(EventStore, OfOneInstantAsTheyCame) {
  EventStore store;
  for (const auto& [time_s, note] :
       {std::pair{2.0, "a"}, {1.0, "b"}, {2.0, "c"}, {1.0, "d"}, {0.5, "e"}, {2.0, "f"}}) {
    Event event;
    event.time_s = time_s;
    event.note = note;
    store.add(event);
  }
  std::string order;
  store.for_each([&](const Event& event) { order += event.note; });
  EXPECT_EQ(order, "ebdacf");
  EXPECT_EQ(store.first_at_or_after(0), 0U);
  EXPECT_EQ(store.first_at_or_after(1), 1U);
  EXPECT_EQ(store.first_at_or_after(1.5), 3U);
  EXPECT_EQ(store.first_at_or_after(2.5), 6U);
}

}  // namespace
}  // namespace airlatch
