// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/feed_truth.hpp"

#include "decoders/context.hpp"
#include "plugin/rehearse/true_event.hpp"

namespace airlatch {

std::vector<Event> truth_of_feeds(const Played& played, bool command) {
  std::vector<Event> truth;
  for (const FeedChange& change : played.feeds)
    truth.push_back(true_event(change.on ? Kind::FEED_ON : Kind::FEED_OFF, change.t_s,
                               change.contact, command));
  return truth;
}

std::vector<Event> truth_of_unanswered(const Played& played, bool command) {
  std::vector<Event> truth;
  for (const FeedChange& feed : played.unanswered) {
    Event event = true_event(Kind::NO_RESPONSE, feed.t_s, feed.contact, command);
    add_measure(event, "waited", {kResponse_s, 0}, "s");
    truth.push_back(event);
  }
  return truth;
}

}  // namespace airlatch
