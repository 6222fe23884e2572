// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/branch_share.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "decoders/direction.hpp"

namespace airlatch {
namespace {

// The mean just before an instant, with its type A uncertainty.
std::optional<Uncertain> before(const Track& track, double until_s) {
  const double look_s = std::max(BranchShare::kLook_s, 3 * track.period_s());
  const auto mean = track.mean(until_s - look_s, until_s);
  if (!mean) return std::nullopt;
  return Uncertain{mean->value, track.noise() / std::sqrt(static_cast<double>(mean->n))};
}

}  // namespace

void BranchShare::take(const CaptureContext& context, const RunFacts& run, double /*from_s*/,
                       double /*to_s*/) {
  if (std::exchange(looked_, true) || run.began_before_capture) return;
  line_before_ = before(context.track(Role::LINE_PRESSURE), run.start_s);
  branch_before_ = before(context.track(Role::BRANCH_PRESSURE), run.start_s);
}

void BranchShare::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  if (!context.has(Role::BRANCH_PRESSURE) || !context.has(Role::LINE_PRESSURE)) return;
  const auto line = before(context.track(Role::LINE_PRESSURE), run.stop_s);
  const auto branch = before(context.track(Role::BRANCH_PRESSURE), run.stop_s);
  if (!line || !branch || !line_before_ || !branch_before_) {
    add_missing(stop, "branch_share", MissingCode::CUT_SHORT,
                "no pressure readings beside both ends of the run");
    return;
  }
  const double moved_kpa = line->value - line_before_->value;
  if (std::abs(moved_kpa) < std::max(kLeastMove_kpa, 5 * combine(line->u, line_before_->u))) {
    add_missing(stop, "branch_share", MissingCode::NOT_TOLD_FROM_ZERO,
                "the line's pressure did not move enough");
    return;
  }
  const double share = (branch->value - branch_before_->value) / moved_kpa;
  const double u = combine(combine(branch->u, branch_before_->u) / moved_kpa,
                           share * combine(line->u, line_before_->u) / moved_kpa,
                           share * combine(context.entry(Role::LINE_PRESSURE).u_rel,
                                           context.entry(Role::BRANCH_PRESSURE).u_rel));
  add_measure(stop, "branch_share", {share, u}, "1");
}

}  // namespace airlatch
