// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/event_store.hpp"

#include <algorithm>

namespace airlatch {
namespace {
constexpr char kUnitFollows = '\n';
}

std::uint32_t EventStore::Texts::number_of(const std::string& text) {
  const auto [at, added] = numbers_.emplace(text, static_cast<std::uint32_t>(texts_.size()));
  if (added) texts_.push_back(&at->first);  // a map's keys stay where they are
  return at->second;
}

EventStore::EventStore(const std::vector<Event>& events) {
  for (const Event& event : events) add(event);
}

void EventStore::add(const Event& event) {
  Row row{.time_s = event.time_s,
          .time_u_s = event.time_u_s,
          .first_measure = static_cast<std::uint32_t>(whats_.size()),
          .measures = static_cast<std::uint32_t>(std::ssize(event.measures)),
          .first_missing = static_cast<std::uint32_t>(missing_.size()),
          .missing = static_cast<std::uint32_t>(event.missing.size()),
          .note = notes_.number_of(event.note),
          .kind = static_cast<std::uint8_t>(event.kind),
          .direction = static_cast<std::uint8_t>(event.direction),
          .contact = static_cast<std::uint8_t>(event.contact)};
  for (const Measure& measure : event.measures) {
    values_.push_back(measure.value);
    values_.push_back(measure.u);
    whats_.push_back(names_.number_of(measure.name + kUnitFollows + measure.unit));
  }
  for (const Missing& missing : event.missing)
    missing_.push_back({names_.number_of(missing.measure), notes_.number_of(missing.text),
                        static_cast<std::uint8_t>(missing.code)});
  // Most come in order; a rest's leak is reported when the rest is over.
  const auto later = std::find_if(rows_.rbegin(), rows_.rend(), [&](const Row& earlier) {
    return !(row.time_s < earlier.time_s);
  });
  rows_.insert(later.base(), row);
}

void EventStore::get(std::size_t i, Event& into) const {
  const Row& row = rows_[i];
  into = {};
  into.kind = static_cast<Kind>(row.kind);
  into.time_s = row.time_s;
  into.time_u_s = row.time_u_s;
  into.direction = static_cast<Direction>(row.direction);
  into.contact = static_cast<Contact>(row.contact);
  into.note = notes_.at(row.note);
  for (std::size_t k = row.first_measure; k < row.first_measure + row.measures; ++k) {
    const std::string& what = names_.at(whats_[k]);
    const std::size_t end = what.find(kUnitFollows);
    Measure& measure = into.measures.emplace_back();
    measure.name = what.substr(0, end);
    measure.unit = what.substr(end + 1);
    measure.value = values_[2 * k];
    measure.u = values_[2 * k + 1];
  }
  for (std::size_t k = row.first_missing; k < row.first_missing + row.missing; ++k)
    into.missing.push_back({names_.at(missing_[k].measure),
                            static_cast<MissingCode>(missing_[k].code),
                            notes_.at(missing_[k].text)});
}

std::size_t EventStore::first_at_or_after(double t_s) const {
  return static_cast<std::size_t>(
      std::partition_point(rows_.begin(), rows_.end(),
                           [t_s](const Row& row) { return row.time_s < t_s; }) -
      rows_.begin());
}

std::vector<Event> EventStore::all() const {
  std::vector<Event> out(size());
  for (std::size_t i = 0; i < size(); ++i) get(i, out[i]);
  return out;
}

}  // namespace airlatch
