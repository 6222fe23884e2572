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

EventStore::EventStore(const std::vector<v1::Event>& events) {
  for (const v1::Event& event : events) add(event);
}

void EventStore::add(const v1::Event& event) {
  Row row{.time_s = event.time_s(),
          .time_u_s = event.time_u_s(),
          .first_measure = static_cast<std::uint32_t>(whats_.size()),
          .measures = static_cast<std::uint32_t>(event.measures_size()),
          .note = notes_.number_of(event.note()),
          .kind = static_cast<std::uint8_t>(event.kind()),
          .direction = static_cast<std::uint8_t>(event.direction()),
          .contact = static_cast<std::uint8_t>(event.contact())};
  for (const v1::Measure& measure : event.measures()) {
    values_.push_back(measure.value());
    values_.push_back(measure.u());
    whats_.push_back(names_.number_of(measure.name() + kUnitFollows + measure.unit()));
  }
  // Most come in order; a rest's leak is told when the rest is over.
  const auto later = std::find_if(rows_.rbegin(), rows_.rend(), [&](const Row& earlier) {
    return !(row.time_s < earlier.time_s);
  });
  rows_.insert(later.base(), row);
}

void EventStore::get(std::size_t i, v1::Event& into) const {
  const Row& row = rows_[i];
  into.Clear();
  into.set_kind(static_cast<v1::Kind>(row.kind));
  into.set_time_s(row.time_s);
  into.set_time_u_s(row.time_u_s);
  into.set_direction(static_cast<v1::Direction>(row.direction));
  into.set_contact(static_cast<v1::Contact>(row.contact));
  into.set_note(notes_.at(row.note));
  for (std::size_t k = row.first_measure; k < row.first_measure + row.measures; ++k) {
    const std::string& what = names_.at(whats_[k]);
    const std::size_t end = what.find(kUnitFollows);
    v1::Measure& measure = *into.add_measures();
    measure.set_name(what.substr(0, end));
    measure.set_unit(what.substr(end + 1));
    measure.set_value(values_[2 * k]);
    measure.set_u(values_[2 * k + 1]);
  }
}

std::size_t EventStore::first_at_or_after(double t_s) const {
  return static_cast<std::size_t>(
      std::partition_point(rows_.begin(), rows_.end(),
                           [t_s](const Row& row) { return row.time_s < t_s; }) -
      rows_.begin());
}

std::vector<v1::Event> EventStore::all() const {
  std::vector<v1::Event> out(size());
  for (std::size_t i = 0; i < size(); ++i) get(i, out[i]);
  return out;
}

}  // namespace airlatch
