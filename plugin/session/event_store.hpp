// SPDX-License-Identifier: GPL-3.0-or-later
// event_store.hpp: a capture's events, kept small: a day of runs has tens of thousands of them.
//
// In    events as they become decidable.
// Out   the same events by time, those of one instant as they came.
// How   numbers in rows; the names, units and notes that they share are kept once.
// Cost  48 bytes an event, 20 a measure, 12 a missing one, and notes that hold numbers of their own.
#pragma once
#include <cstdint>
#include <deque>
#include <map>
#include <string>
#include <vector>

#include "decoders/event.hpp"

namespace airlatch {

class EventStore {
 public:
  EventStore() = default;
  explicit EventStore(const std::vector<Event>& events);
  EventStore(EventStore&&) = default;
  EventStore& operator=(EventStore&&) = default;
  EventStore(const EventStore&) = delete;  // its texts point into itself
  EventStore& operator=(const EventStore&) = delete;
  void add(const Event& event);

  [[nodiscard]] std::size_t size() const { return rows_.size(); }
  [[nodiscard]] bool empty() const { return rows_.empty(); }
  // Of the i-th by time. REQUIRES: i < size().
  [[nodiscard]] Kind kind(std::size_t i) const { return static_cast<Kind>(rows_[i].kind); }
  [[nodiscard]] double time_s(std::size_t i) const { return rows_[i].time_s; }
  [[nodiscard]] Contact contact(std::size_t i) const {
    return static_cast<Contact>(rows_[i].contact);
  }
  void get(std::size_t i, Event& into) const;
  // The first at or after t.
  [[nodiscard]] std::size_t first_at_or_after(double t_s) const;

  // `look(event)` for each by time; the event is gone after the call.
  template <typename Look>
  void for_each(Look&& look) const {
    Event event;
    for (std::size_t i = 0; i < size(); ++i) {
      get(i, event);
      look(static_cast<const Event&>(event));
    }
  }
  [[nodiscard]] std::vector<Event> all() const;

 private:
  struct Row {
    double time_s, time_u_s;
    std::uint32_t first_measure, measures, first_missing, missing, note;
    std::uint8_t kind, direction, contact;
  };
  struct MissingRow {
    std::uint32_t measure, text;
    std::uint8_t code;
  };
  class Texts {
   public:
    std::uint32_t number_of(const std::string& text);
    [[nodiscard]] const std::string& at(std::uint32_t number) const { return *texts_[number]; }

   private:
    std::map<std::string, std::uint32_t> numbers_;
    std::deque<const std::string*> texts_;
  };

  std::deque<Row> rows_;             // by time
  std::deque<double> values_;        // value and u of each measure
  std::deque<std::uint32_t> whats_;  // name and unit of each measure
  std::deque<MissingRow> missing_;
  Texts notes_, names_;  // a name is followed by its unit
};

}  // namespace airlatch
