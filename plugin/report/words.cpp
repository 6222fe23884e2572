#include "plugin/report/words.hpp"

#include <fmt/format.h>

#include <map>

#include "plugin/session/quantity.hpp"
#include "plugin/verdict/compare.hpp"

namespace airlatch {

std::string finding_words(const std::string& code) {
  static const std::map<std::string, const char*> words = {
      {"SOUND", "Pump and line are sound"},
      {"SOURCE_DEAD", "The source does not hold its voltage"},
      {"FEED_RESISTANCE", "Too much resistance in the feed"},
      {"RETURN_RESISTANCE", "Too much resistance in the ground path"},
      {"CONTACT_INTERMITTENT", "A loose contact in the wiring"},
      {"MOTOR_OPEN", "The motor draws nothing on either contact"},
      {"MOTOR_SEIZED", "The motor does not turn"},
      {"MOTOR_WORN", "The motor's brushes or winding are worn"},
      {"CHANGEOVER_STUCK", "The pump does not arm its other direction"},
      {"CUTOFF_MISSING", "The pump does not stop itself"},
      {"PUMP_WEAK", "The pump does not reach its pressure"},
      {"LINE_LEAK", "The line leaks"},
      {"LEAK_PRESSURE_SIDE", "The line leaks when blown"},
      {"LEAK_VACUUM_SIDE", "The line leaks when sucked"},
      {"LINE_BLOCKED", "The line is blocked"},
      {"NOT_ENOUGH_TESTED", "Not enough was tested to say"}};
  const auto it = words.find(code);
  return it == words.end() ? code : it->second;
}

std::string outcome_words(v1::Report::Outcome outcome) {
  switch (outcome) {
    case v1::Report::PASS:
      return "PASS";
    case v1::Report::FAIL:
      return "FAIL";
    case v1::Report::NOT_MEASURABLE:
      return "not measurable";
    default:
      return "not done";
  }
}

std::string limit_words(const v1::Report::LimitResult& limit) {
  const v1::Measure& value = limit.value();
  std::string text = limit.limit().measure();
  if (limit.has_value()) text += " " + format_quantity(value.value(), value.u(), value.unit());
  const std::string unit = value.unit().empty() || value.unit() == "1" ? "" : " " + value.unit();
  if (limit.limit().has_min()) text += fmt::format(", at least {:g}{}", limit.limit().min(), unit);
  if (limit.limit().has_max()) text += fmt::format(", at most {:g}{}", limit.limit().max(), unit);
  text += ": " + outcome_words(limit.verdict());
  if (!limit.note().empty()) text += " (" + limit.note() + ")";
  return text;
}

std::string change_words(const v1::Report::Change& change) {
  if (change.measure().empty()) return change.verdict() + ": " + change.reason();
  if (change.verdict() == kNotComparable)
    return fmt::format("{:24} {}: {}", change.measure(), kNotComparable, change.reason());
  return fmt::format(
      "{:24} {} -> {}, change {}: {}", change.measure(),
      format_quantity(change.before().value(), change.before().u(), ""),
      format_quantity(change.after().value(), change.after().u(), change.after().unit()),
      format_quantity(change.change(), change.u(), ""), change.verdict());
}

std::vector<std::string> contact_words(const v1::Report::ContactFinding& found) {
  std::vector<std::string> out;
  for (const auto& contact : found.contacts())
    out.push_back(fmt::format("{}: {} (ground {:.2f}, blows {:.2f}, sucks {:.2f})", contact.name(),
                              contact.use(), contact.ground(), contact.blows(), contact.sucks()));
  for (const std::string& trial : found.trials()) out.push_back("tried " + trial);
  if (!found.next_trial().empty()) out.push_back("Try next: " + found.next_trial());
  return out;
}

}  // namespace airlatch
