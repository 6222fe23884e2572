// SPDX-License-Identifier: GPL-3.0-or-later
// evidence.hpp: what the events of a job say, as statements that are more or less certain.
//
// In    the events of one state of the car (before or after a repair), of one capture or several.
// Out   one Evidence a statement: how probable it is, and the events and measures it rests on.
// How   a measure against its limit gives the normal probability that the truth lies beyond it;
//       what nobody measured is not known, and weighs nothing. Limits are the plan's (limits.hpp);
//       an event that a step of the plan waits for and passes is evidence of no fault.
#pragma once
#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "plugin/message/report.hpp"
#include "plugin/session/event_store.hpp"
#include "plugin/session/limits.hpp"

namespace airlatch {

enum class Statement {
  kSourceLow,     // the source does not hold its voltage
  kBothDead,      // both contacts fed with good voltage, neither drew current
  kArmedDead,     // no response on the contact that the last cut-off had armed
  kUntried,       // not both contacts were tried as the changeover demands
  kLocked,        // stall current, nothing turns
  kWiringBreaks,  // short breaks of feed and current together
  kBrushBreaks,   // short breaks of the current, the feed stays
  kRunsOnFull,    // never cuts off though the pressure is there
  kRunsOnLow,     // never cuts off, and the pressure is not reached
  kFeedOhm,       // feed path resistance over its limit
  kReturnOhm,     // return path resistance over its limit
  kLeaks,         // the leak is over its limit, blown or sucked
  kOnlyBlown,     // it leaks when blown, and hardly when sucked
  kOnlySucked,    // it leaks when sucked, and hardly when blown
  kBlocked,       // the air does not get into the line
  kMotorOhm,      // motor resistance over its limit
  kBothCut,       // both contacts were run to their cut-off
  kHowMany,       // none: last, it counts them
};
constexpr auto kStatements = static_cast<std::size_t>(Statement::kHowMany);

constexpr std::size_t kMostCited = 10;  // for one statement: a day's capture has thousands
struct Evidence {
  bool known = false;
  double probability = 0.5;          // that the statement holds
  std::vector<std::string> because;  // events and measures, for people: the first kMostCited
  std::vector<Finding::Basis> basis;  // the same, for programs
  std::size_t more = 0;              // beyond them
};

using EvidenceTable = std::array<Evidence, kStatements>;

// Takes captures one by one, in the order in which they were recorded.
class EvidenceGatherer {
 public:
  explicit EvidenceGatherer(Limits limits);
  ~EvidenceGatherer();
  // Of one capture, and its place in the report; `source_most_v`: the highest that its source channel
  // read, where it has one.
  void take(const EventStore& events, std::size_t capture,
            const std::optional<double>& source_most_v = {});
  EvidenceTable finish();

 private:
  class Inner;
  std::unique_ptr<Inner> inner_;
};

// `captures`: the events of each capture, in the order in which they were recorded.
EvidenceTable gather_evidence(const std::vector<std::vector<Event>>& captures,
                              const Limits& limits);

// The event, and the measure where one is given, as evidence names them.
std::string cite(const Event& event, const Measure* measure = nullptr);

}  // namespace airlatch
