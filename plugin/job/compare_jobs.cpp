// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <cmath>
#include <iterator>

#include "plugin/job/judge.hpp"
#include "plugin/verdict/compare.hpp"

namespace airlatch {
namespace {

// Beyond this, two states are compared with a remark (common practice, no source).
constexpr double kWarmth_k = 5;

std::optional<double> mean_air_c(const JudgedJob& job) {
  double sum_c = 0;
  int n = 0;
  for (const std::optional<double>& air_c : job.air_c) {
    if (!air_c) continue;
    sum_c += *air_c;
    ++n;
  }
  if (n == 0) return std::nullopt;
  return sum_c / n;
}

void add_remarks(const JudgedJob& before, JudgedJob& after) {
  auto& remarks = after.report.remarks;
  if (before.report.rig != after.report.rig)
    remarks.emplace_back("The rigs differ: differences may be the instruments'.");
  if (before.report.plan != after.report.plan) remarks.emplace_back("The plans differ.");
  const auto a = mean_air_c(before), b = mean_air_c(after);
  if (a && b && std::abs(*a - *b) > kWarmth_k)
    remarks.push_back(fmt::format(
        "It was {:.1f} °C before and {:.1f} °C after: leaks and pressures may differ by "
        "that alone.",
        *a, *b));
}

// The earlier ones first.
template <typename List>
void put_before(List& list, List& earlier) {
  list.insert(list.begin(), std::make_move_iterator(earlier.begin()),
              std::make_move_iterator(earlier.end()));
}

}  // namespace

JudgedJob compare_jobs(JudgedJob before, JudgedJob after) {
  add_remarks(before, after);
  Report& report = after.report;
  report.before_findings = before.report.findings;
  report.changes = compare_events(before.report.events, report.events, limits_of(report.plan));
  for (auto& capture : before.report.captures) capture.phase = Phase::BEFORE;
  for (auto& capture : report.captures) capture.phase = Phase::AFTER;
  for (Finding& finding : report.findings)
    for (Finding::Basis& basis : finding.basis)
      basis.capture += static_cast<std::uint32_t>(before.report.captures.size());
  put_before(report.captures, before.report.captures);
  put_before(after.facts, before.facts);
  put_before(after.events, before.events);
  put_before(after.air_c, before.air_c);
  put_before(after.damages, before.damages);
  if (after.facts.size() != report.captures.size()) {  // a report that was read has no samples
    after.facts.clear();
    after.events.clear();
    after.air_c.clear();
  }
  return after;
}

}  // namespace airlatch
