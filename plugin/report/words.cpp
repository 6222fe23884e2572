// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/words.hpp"

#include <fmt/format.h>

#include "plugin/session/quantity.hpp"
#include "plugin/verdict/compare.hpp"

namespace airlatch {

std::string outcome_words(Outcome outcome) {
  switch (outcome) {
    case Outcome::PASS:
      return "PASS";
    case Outcome::FAIL:
      return "FAIL";
    case Outcome::NOT_MEASURABLE:
      return "not measurable";
    case Outcome::NOT_DONE:
    case Outcome::UNSPECIFIED:
      break;
  }
  return "not done";
}

std::string limit_words(const Report::LimitResult& limit) {
  const Measure value = limit.value.value_or(Measure{});
  std::string text = limit.limit.measure;
  if (limit.value) text += " " + format_quantity(value.value, value.u, value.unit);
  const std::string unit = value.unit.empty() || value.unit == "1" ? "" : " " + value.unit;
  if (limit.limit.min) text += fmt::format(", at least {:g}{}", *limit.limit.min, unit);
  if (limit.limit.max) text += fmt::format(", at most {:g}{}", *limit.limit.max, unit);
  text += ": " + outcome_words(limit.verdict);
  if (!limit.note.empty()) text += " (" + limit.note + ")";
  return text;
}

std::string change_words(const Report::Change& change) {
  if (change.measure.empty()) return change.verdict + ": " + change.reason;
  if (change.verdict == kNotComparable)
    return fmt::format("{:24} {}: {}", change.measure, kNotComparable, change.reason);
  return fmt::format("{:24} {} -> {}, change {}: {}", change.measure,
                     format_quantity(change.before->value, change.before->u, ""),
                     format_quantity(change.after->value, change.after->u, change.after->unit),
                     format_quantity(change.change, change.u, ""), change.verdict);
}

std::vector<std::string> contact_words(const Report::ContactFinding& found) {
  std::vector<std::string> out;
  for (const auto& contact : found.contacts)
    out.push_back(fmt::format("{}: {} (ground {:.2f}, blows {:.2f}, sucks {:.2f})", contact.name,
                              contact.use, contact.ground, contact.blows, contact.sucks));
  for (const std::string& trial : found.trials) out.push_back("tried " + trial);
  if (!found.next_trial.empty()) out.push_back("Try next: " + found.next_trial);
  return out;
}

}  // namespace airlatch
