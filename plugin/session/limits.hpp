// SPDX-License-Identifier: GPL-3.0-or-later
// limits.hpp: what a sound system stays within: the one place for whoever judges.
//
// In    a plan.
// Out   for a measure of an event, its limit: the plan's, where a step that waits for such an event
//       limits it (the widest of them, if several do; all of a step's own hold together), else the
//       built-in one.
//       Of the limits on a leak, one holds: that on leak_share where a run was measured before the
//       decay, else that on leak_rate where the volume is known, else that on decay_rate.
// How   built-in limits are our own (common practice, no source). Whether a value is inside is
//       decided with a guard band of twice its standard uncertainty (ILAC-G8:09/2019, 4.2.3).
#pragma once
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"

namespace airlatch {

struct Range {
  std::optional<double> min = {}, max = {};  // in the measure's unit
};

enum class Within {
  kYes,        // inside by the guard band or more
  kUndecided,  // the limit lies within the uncertainty
  kNo,         // outside by the guard band or more
};
Within within(const Range& range, const Measure& measure);

// The probability that the measure's true value is outside the range. Beyond the limit the limit
// itself is taken as good to a twentieth; a value that is inside counts as it was measured.
double probability_outside(const Range& range, const Measure& measure);

class Limits {
 public:
  explicit Limits(std::vector<Plan::Step> steps) : steps_(std::move(steps)) {}

  // Empty where neither the plan nor the built-in limits say anything.
  [[nodiscard]] Range of(Kind kind, Direction direction, std::string_view measure) const;
  // The plan's; nothing where no step limits it.
  [[nodiscard]] std::optional<Range> of_plan(Kind kind, Direction direction,
                                             std::string_view measure) const;
  // Whether a step waits for just such an event, and it keeps all of that step's limits.
  [[nodiscard]] bool wait_for(const Event& event) const;
  // The measure of a LEAK_DECAY by which its leak is judged; nullptr where there is none.
  [[nodiscard]] const Measure* judged_leak(const Event& decay) const;
  // The one way in which the plan has the pump run; UNKNOWN: both, or it does not say.
  [[nodiscard]] Direction only_way() const;

 private:
  std::vector<Plan::Step> steps_;
};

// The step's limits that hold for such an event: of those on a leak only one does.
std::vector<Plan::Limit> limits_that_hold(const Plan::Step& step, const Event& event);

// Whether a step waits for such an event.
bool fits(const Plan::Step& step, Kind kind, Direction direction);

Limits limits_of(const Plan& plan);

}  // namespace airlatch
