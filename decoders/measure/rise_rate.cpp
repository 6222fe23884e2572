// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/rise_rate.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include "decoders/direction.hpp"
#include "decoders/measure/level.hpp"
#include "decoders/method/elementary.hpp"
#include "decoders/method/parabola.hpp"

namespace airlatch {
namespace {
constexpr double kHole = 5;           // times the usual spacing: the level lies in it
constexpr double kWhole = 0.8;        // of the readings expected between two instants
constexpr double kLeastReadings = 4;  // of a slow meter between the two levels

// Neighbouring points merged until their noise is small beside the rise: averages of a line lie on
// the line.
std::vector<Trace::Point> merged(const std::vector<Trace::Point>& points, double least_n) {
  std::vector<Trace::Point> out;
  Trace::Point sum;
  for (const Trace::Point& point : points) {
    sum.time_s += point.n * point.time_s;
    sum.value += point.n * point.value;
    sum.n += point.n;
    if (sum.n < least_n) continue;
    out.push_back({sum.time_s / sum.n, sum.value / sum.n, sum.n});
    sum = {};
  }
  return out;
}

// Instant at which the points cross `level`, from a parabola (or a line, where it does not bend) through
// those within `band` of it. What that does not fit (an interrupted rise) counts in the uncertainty;
// `flicker`: standard deviation of what averaging does not remove.
std::optional<Uncertain> level_instant(const std::vector<Trace::Point>& points, double sign,
                                       double level, double band, double noise, double flicker) {
  std::size_t hit = 0;
  while (hit < points.size() && sign * (points[hit].value - level) < 0) ++hit;
  if (hit == 0 || hit == points.size()) return std::nullopt;
  const auto apart_s = [&](std::size_t i) { return points[i + 1].time_s - points[i].time_s; };
  if (hit + 1 < points.size() && apart_s(hit - 1) > kHole * apart_s(hit)) return std::nullopt;
  std::size_t from = hit - 1, to = hit + 1;
  while (from > 0 && std::abs(points[from - 1].value - level) < band) --from;
  while (to < points.size() && std::abs(points[to].value - level) < band) ++to;
  const double centre_s = points[hit].time_s;
  const double scale_s = points[to - 1].time_s - points[from].time_s;
  Parabola curve;
  double n = 0;
  for (std::size_t i = from; i < to; ++i) {
    curve.add((points[i].time_s - centre_s) / scale_s, points[i].value);
    n += points[i].n;
  }
  const double k = static_cast<double>(to - from);
  const double point_noise = noise * std::sqrt(k / n);
  const Parabola::Fit fit = curve.fit(point_noise);
  if (!(sign * fit.slope > 0)) return std::nullopt;
  double x = (level - fit.at_0) / fit.slope;
  for (int round = 0; round < 3; ++round)  // Newton's, from the straight line's
    x -= (fit.at_0 + (fit.slope + fit.bend * x) * x - level) / (fit.slope + 2 * fit.bend * x);
  const double slope = (fit.slope + 2 * fit.bend * x) / scale_s;
  if (!(std::abs(x) <= 1) || !(sign * slope > 0)) return std::nullopt;
  double rss = 0;
  for (std::size_t i = from; i < to; ++i) {
    const double at = (points[i].time_s - centre_s) / scale_s;
    rss += elementary::square(points[i].value - fit.at_0 - (fit.slope + fit.bend * at) * at);
  }
  const double misfit =
      k > 3 ? std::sqrt(std::max(0.0, rss / (k - 3) - 2 * point_noise * point_noise)) : 0;
  return Uncertain{centre_s + x * scale_s,
                   combine(combine(noise * std::sqrt((fit.bends ? 2.25 : 1) / n), flicker), misfit,
                           fit.u_bend / 2) /
                       std::abs(slope)};
}
}  // namespace

double RiseRate::lead_s(const Track& line) { return line.slow() ? 1.5 * line.period_s() : kLead_s; }

void RiseRate::take(const CaptureContext& context, const RunFacts& run, double from_s,
                    double to_s) {
  const Track& line = context.track(Role::LINE_PRESSURE);
  if (line.empty()) return;
  clipped_ =
      clipped_ || context.clips.any(Role::LINE_PRESSURE, std::max(from_s, run.start_s), to_s);
  const std::int64_t to = line.first_at_or_after(to_s);
  for (std::int64_t k = line.first_at_or_after(std::max(from_s, run.start_s - lead_s(line)));
       k < to;)
    k = trace_.add_bin(line, k, to, [](double, double kpa) { return kpa; });
}

// Whether samples are missing between the two instants.
bool RiseRate::holes(const Uncertain& from_s, const Uncertain& to_s, double period_s) const {
  double n = 0, most = 0;
  for (const Trace::Point& point : trace_.points()) {
    if (point.time_s < from_s.value || point.time_s >= to_s.value) continue;
    n += point.n;
    most = std::max(most, point.n);
  }
  const double at_ends = 2 * std::max(most, 1.0);  // points that lie on both sides of an instant
  return period_s > 0 && n + at_ends < kWhole * (to_s.value - from_s.value) / period_s;
}

void RiseRate::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  const Track& line = context.track(Role::LINE_PRESSURE);
  if (line.empty()) {
    add_missing(stop, "rise_rate", MissingCode::NO_CHANNEL, "no pressure channel");
    return;
  }
  if (run.began_before_capture || stop.direction == Direction::UNKNOWN ||
      trace_.points().size() < 4 ||
      pressure_direction(context, run.start_s, run.stop_s) == Direction::UNKNOWN) {
    // The last is looked up in recent samples only: a long run's start may be gone from them.
    if (run.stop_s - run.start_s < Track::kKept_s || trace_.points().size() < 4) {
      add_missing(stop, "rise_rate", MissingCode::NOT_TOLD_FROM_ZERO,
                  "the pressure did not move enough");
      return;
    }
  }
  if (clipped_) {
    add_missing(stop, "rise_rate", MissingCode::OUT_OF_RANGE,
                "the pressure went beyond its sensor's range");
    return;
  }
  const auto& points = trace_.points();
  double p0 = 0, n0 = 0;
  for (const auto& point : points) {
    if (point.time_s > run.start_s && n0 > 0) break;
    p0 += point.n * point.value;
    n0 += point.n;
  }
  p0 /= n0;
  const auto end = end_pressure(context, run);
  if (!end) {
    add_missing(stop, "rise_rate", MissingCode::TOO_SLOW, "no pressure reading beside the stop");
    return;
  }
  const double p1 = end->value;
  const double change = p1 - p0, sign = change < 0 ? -1 : 1, noise = line.noise();
  if (std::abs(change) < std::max(kLeastMove_kpa, 5 * end->u)) {
    add_missing(stop, "rise_rate", MissingCode::NOT_TOLD_FROM_ZERO,
                "the pressure did not move enough");
    return;
  }
  // Narrow enough for a parabola, wide enough for the noise.
  const double band = 0.08 * std::abs(change);
  const NoiseModel& model = context.noise_of(Role::LINE_PRESSURE);
  const double flicker = std::sqrt(2 * std::numbers::ln2 * model.h1);
  const auto rise = merged(points, elementary::square(10 * noise / band));
  const auto t10 = level_instant(rise, sign, p0 + 0.1 * change, band, noise, flicker);
  const auto t50 = level_instant(rise, sign, p0 + 0.5 * change, band, noise, flicker);
  if (!t10 || !t50 || t50->value <= t10->value) {
    add_missing(stop, "rise_rate", MissingCode::TOO_SLOW, "the readings are too far apart");
    return;
  }
  const double span_s = t50->value - t10->value;
  if (line.slow() && span_s < kLeastReadings * line.period_s()) {
    add_missing(stop, "rise_rate", MissingCode::TOO_SLOW, "the readings are too far apart");
    return;
  }
  const double rate = 0.4 * std::abs(change) / span_s;
  if (holes(*t10, *t50, line.period_s())) {
    add_missing(stop, "rise_rate", MissingCode::DISTURBED, "samples are missing in the rise");
    return;
  }
  const double lead_s = std::max(RiseRate::lead_s(line), line.period_s());
  const double u_change = combine(std::sqrt(model.variance_of_mean(lead_s)), end->u);
  // Between slow readings the curve is not known: their spacing counts as far as it is coarse.
  const double u_coarse_s = line.slow() ? u_of_width(line.period_s()) : 0;
  add_measure(
      stop, "rise_rate",
      {rate, rate * combine(combine(t10->u, t50->u, u_coarse_s) / span_s,
                            u_change / std::abs(change), context.entry(Role::LINE_PRESSURE).u_rel)},
      "kPa/s");
}

}  // namespace airlatch
