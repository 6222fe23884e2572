#include "decoders/measure/rise_rate.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "decoders/direction.hpp"
#include "decoders/measure/level.hpp"

namespace airlatch {
namespace {
// Instant at which the points cross `level`, from a line through those within `band` of it.
std::optional<Uncertain> level_instant(const std::vector<Trace::Point>& points, double sign,
                                       double level, double band, double noise) {
  std::size_t hit = 0;
  while (hit < points.size() && sign * (points[hit].value - level) < 0) ++hit;
  if (hit == 0 || hit == points.size()) return std::nullopt;
  std::size_t from = hit - 1, to = hit + 1;
  while (from > 0 && std::abs(points[from - 1].value - level) < band) --from;
  while (to < points.size() && std::abs(points[to].value - level) < band) ++to;
  double n = 0, t = 0, p = 0;
  for (std::size_t i = from; i < to; ++i) {
    n += points[i].n;
    t += points[i].n * points[i].time_s;
    p += points[i].n * points[i].value;
  }
  t /= n;
  p /= n;
  double tt = 0, tp = 0;
  for (std::size_t i = from; i < to; ++i) {
    tt += points[i].n * (points[i].time_s - t) * (points[i].time_s - t);
    tp += points[i].n * (points[i].time_s - t) * (points[i].value - p);
  }
  const double slope = tp / tt;
  if (!(sign * slope > 0)) return std::nullopt;
  return Uncertain{t + (level - p) / slope, noise / std::sqrt(n) / std::abs(slope)};
}
}  // namespace

void RiseRate::take(const Bench& bench, const RunFacts& run, double from_s, double to_s) {
  const Track& line = bench.track(v1::LINE_PRESSURE);
  for (std::int64_t k = line.first_at_or_after(std::max(from_s, run.start_s - 0.05));
       k < line.end() && line.time_s(k) < to_s; ++k)
    trace_.add(line.time_s(k), line.value(k));
}

void RiseRate::add_to(v1::Event& stop, const Bench& bench, const RunFacts& run) {
  const Track& line = bench.track(v1::LINE_PRESSURE);
  if (line.empty()) {
    add_note(stop, "rise_rate: no pressure channel");
    return;
  }
  if (run.began_before_capture || stop.direction() == v1::UNKNOWN || trace_.points().size() < 4 ||
      pressure_direction(bench, run.start_s, run.stop_s) == v1::UNKNOWN) {
    // The last is looked up in recent samples only: a long run's start may be gone from them.
    if (run.stop_s - run.start_s < Track::kKept_s || trace_.points().size() < 4) {
      add_note(stop, "rise_rate: the pressure did not move enough");
      return;
    }
  }
  const auto& points = trace_.points();
  double p0 = 0, n0 = 0;
  for (const auto& point : points) {
    if (point.time_s > run.start_s && n0 > 0) break;
    p0 += point.n * point.value;
    n0 += point.n;
  }
  p0 /= n0;
  const auto end = end_pressure(bench, run);
  if (!end) {
    add_note(stop, "rise_rate: no pressure reading beside the stop");
    return;
  }
  const double p1 = end->value;
  const double change = p1 - p0, sign = change < 0 ? -1 : 1, noise = line.noise();
  if (std::abs(change) < std::max(kLeastMove_kpa, 5 * end->u)) {
    add_note(stop, "rise_rate: the pressure did not move enough");
    return;
  }
  // Narrow enough for a straight line, wide enough for the noise.
  const double band =
      std::max(0.02 * std::abs(change), std::min(3 * noise, 0.06 * std::abs(change)));
  const auto t10 = level_instant(points, sign, p0 + 0.1 * change, band, noise);
  const auto t50 = level_instant(points, sign, p0 + 0.5 * change, band, noise);
  if (!t10 || !t50 || t50->value <= t10->value) {
    add_note(stop, "rise_rate: the readings are too far apart");
    return;
  }
  const double span_s = t50->value - t10->value;
  const double rate = 0.4 * std::abs(change) / span_s;
  const double u_change = combine(noise / std::sqrt(n0), end->u);
  // Between slow readings the curve is not known: their spacing counts as far as it is coarse.
  const double u_coarse_s = line.slow() ? 0.3 * u_of_width(line.period_s()) : 0;
  add_measure(
      stop, "rise_rate",
      {rate, rate * combine(combine(t10->u, t50->u, u_coarse_s) / span_s,
                            u_change / std::abs(change), bench.channel[v1::LINE_PRESSURE].u_rel())},
      "kPa/s");
}

}  // namespace airlatch
