// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/path_resistance.hpp"

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

namespace airlatch {
namespace {
constexpr double kFall_s = 0.001;        // where the current falls the path is being opened
constexpr double kEdge_s = 0.0005;       // the meters' own delays matter most in the steep rise
constexpr double kOpen = 0.15;           // of the nominal voltage: no source reaches the contact
constexpr double kLeast_a = 0.3;         // a motor that is fed draws more
constexpr double kLeastNoise_v = 0.001;  // a reading that never moves is still not exact
// Of a voltmeter whose accuracy the rig does not state (common practice, no source).
constexpr double kUnstatedOffset_v = 0.02;

// y = c + R x by least squares, with c known beforehand to be N(0, u_offset): the instruments'
// offset. Scatter of x at the meter's own noise would pull R down; its known part is taken out.
void add(Event& stop, const char* name, const LineAccumulator& line, const CaptureContext& context,
         double noise_v, double coarse_v, double u_offset_v, double u_path_rel, double u_gain_ohm) {
  if (line.n() < 4) {
    add_missing(stop, name, MissingCode::CUT_SHORT, "too few readings in the run");
    return;
  }
  const double n = line.n(), x = line.mean_x(), y = line.mean_y();
  const double raw = line.sd_x() * line.sd_x() * (n - 1);
  // Where the current's scatter is mostly the meter's own noise, there is no slope to determine.
  const double noise_xx = n * context.current_noise_a * context.current_noise_a;
  const bool slopes = raw > 2 * noise_xx && raw > 0;
  const double xx = slopes ? raw - noise_xx : 0;
  const double xy = slopes ? line.slope() * raw : 0;
  const double sigma_v = std::max({noise_v, slopes ? line.residual_sd() : 0.0, kLeastNoise_v});
  // The error that averaging does not remove counts as one error for each code crossed.
  const double codes = coarse_v > 0 ? 1 + 2 * line.sd_y() / coarse_v : 1;
  const double w = 1 / (sigma_v * sigma_v + n * coarse_v * coarse_v / codes);
  const double offset_w = 1 / (u_offset_v * u_offset_v);
  const double a = n * w + offset_w, b = n * w * x, c = w * (xx + n * x * x);
  const double determinant = a * c - b * b;
  const double ohm = (a * w * (xy + n * x * y) - b * n * w * y) / determinant;
  const double u_rel = combine(context.entry(Role::MOTOR_CURRENT).u_rel, u_path_rel);
  add_measure(stop, name, {ohm, combine(std::sqrt(a / determinant), u_rel * ohm, u_gain_ohm)}, "Ω");
}

double offset_v(double u_v) { return u_v > 0 ? u_v : kUnstatedOffset_v; }
}  // namespace

// Samples [from, to) of the current, if all of them count and all channels were sampled with it.
bool PathResistance::take_whole(const CaptureContext& context, const RunFacts& run,
                                std::int64_t from, std::int64_t to) {
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const Track& supply = context.track(Role::SUPPLY_VOLTAGE);
  const Track& feed = context.track(CaptureContext::feed_role(run.contact));
  const Track& back = context.track(Role::RETURN_VOLTAGE);
  const bool has_feed = run.contact != Contact::NONE && !feed.empty() && !supply.empty();
  if (from >= to || (current.time_s(to - 1) > run.dip_from_s - kFall_s &&
                     current.time_s(from) < run.dip_to_s + kEdge_s))
    return false;
  const std::span<const float> reading_a = current.values(from, to);
  const Extremes all = extremes_of(reading_a);
  const auto least = static_cast<double>(all.least), most = static_cast<double>(all.most);
  if (std::min(run.current_a(least), run.current_a(most)) < kLeast_a ||
      context.at_limit(Role::MOTOR_CURRENT, least) || context.at_limit(Role::MOTOR_CURRENT, most))
    return false;
  const auto n = static_cast<double>(to - from);
  const auto beside = [&](const Track& track) -> std::span<const float> {
    const std::int64_t first = current.beside(from, to, track);
    return first < 0 ? std::span<const float>() : track.values(first, first + to - from);
  };
  // A reading is what the probe shows: the current's sign and zero are put in afterwards.
  const auto points = [&](const Spread& of, double mean_y, double by_a, double yy) {
    return LineAccumulator::Points{
        n, run.sign * (of.mean_b - run.zero_a), mean_y, of.bb, run.sign * by_a, yy};
  };
  LineAccumulator::Points drop, source, returned;
  if (has_feed) {
    const auto source_v = beside(supply), feed_v = beside(feed);
    if (source_v.empty() || feed_v.empty() ||
        static_cast<double>(extremes_of(feed_v).least) <= kOpen * context.nominal_v)
      return false;
    const Spread s = about_means(moments(source_v, reading_a), n);
    const Spread f = about_means(moments(feed_v, reading_a), n);
    const Spread both = about_means(moments(source_v, feed_v), n);
    source = points(s, s.mean_a, s.ab, s.aa);
    drop =
        points(s, s.mean_a - f.mean_a, s.ab - f.ab, std::max(0.0, both.aa - 2 * both.ab + both.bb));
  }
  if (!back.empty()) {
    const auto return_v = beside(back);
    if (return_v.empty()) return false;
    const Spread r = about_means(moments(return_v, reading_a), n);
    returned = points(r, r.mean_a, r.ab, r.aa);
  }
  if (drop.n > 0) feed_.add(drop);
  if (source.n > 0) supply_.add(source);
  if (returned.n > 0) return_.add(returned);
  return true;
}

void PathResistance::take(const CaptureContext& context, const RunFacts& run, double from_s,
                          double to_s) {
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const Track& supply = context.track(Role::SUPPLY_VOLTAGE);
  const Track& feed = context.track(CaptureContext::feed_role(run.contact));
  const Track& back = context.track(Role::RETURN_VOLTAGE);
  const bool has_feed = run.contact != Contact::NONE && !feed.empty() && !supply.empty();
  if (!has_feed && back.empty()) return;
  if (run.stop_s > run.start_s)
    to_s = std::min(to_s, run.stop_s - std::max(kFall_s, 1.5 * current.period_s()));
  const std::int64_t from = current.first_at_or_after(std::max(from_s, run.start_s + kEdge_s));
  const std::int64_t to = current.first_at_or_after(to_s);
  if (take_whole(context, run, from, to)) return;
  std::vector<double> fed_a, drop_v, supply_v, all_a, return_v;
  Track::Beside supply_v_at(supply, current, from, to), feed_v_at(feed, current, from, to),
      return_v_at(back, current, from, to);
  for (std::int64_t k = from; k < to; ++k) {
    const double t_s = current.time_s(k), a = run.current_a(current.value(k));
    if (t_s > run.dip_from_s - kFall_s && t_s < run.dip_to_s + kEdge_s) continue;
    if (a < kLeast_a || context.at_limit(Role::MOTOR_CURRENT, current.value(k))) continue;
    if (has_feed) {
      const double source_v = supply_v_at.at(k), feed_v = feed_v_at.at(k);
      // An open contact (bounce, a loose clip) leaves the feed to the motor's own voltages.
      if (feed_v > kOpen * context.nominal_v) {
        fed_a.push_back(a);
        drop_v.push_back(source_v - feed_v);
        supply_v.push_back(source_v);
      }
    }
    if (back.empty()) continue;
    all_a.push_back(a);
    return_v.push_back(return_v_at.at(k));
  }
  feed_.add(fed_a, drop_v);
  supply_.add(fed_a, supply_v);
  return_.add(all_a, return_v);
}

void PathResistance::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  const Role feed = CaptureContext::feed_role(run.contact);
  if (run.contact == Contact::NONE || !context.has(feed) || !context.has(Role::SUPPLY_VOLTAGE)) {
    add_missing(stop, "feed_path_resistance", MissingCode::NO_CHANNEL,
                "needs the supply and the driven contact's voltage");
  } else {
    const auto& s = context.entry(Role::SUPPLY_VOLTAGE);
    const auto& f = context.entry(feed);
    // Two meters on nearly equal voltages: a difference of their gains turns the source's own sag
    // into path resistance; on the ratio of means it acts with the whole voltage.
    const double u_gain = combine(s.u_rel, f.u_rel);
    const double sag_ohm = supply_.n() >= 4 ? std::abs(supply_.slope()) : 0;
    const double noise_v =
        combine(context.track(Role::SUPPLY_VOLTAGE).noise(), context.track(feed).noise());
    add(stop, "feed_path_resistance", feed_, context, noise_v,
        combine(context.track(Role::SUPPLY_VOLTAGE).quantisation_error(),
                context.track(feed).quantisation_error()),
        offset_v(combine(s.u_abs, f.u_abs, u_gain * context.nominal_v)), u_gain, u_gain * sag_ohm);
  }
  if (!context.has(Role::RETURN_VOLTAGE)) {
    add_missing(stop, "return_path_resistance", MissingCode::NO_CHANNEL, "no return channel");
  } else {
    const auto& r = context.entry(Role::RETURN_VOLTAGE);
    add(stop, "return_path_resistance", return_, context,
        context.track(Role::RETURN_VOLTAGE).noise(),
        context.track(Role::RETURN_VOLTAGE).quantisation_error(), offset_v(r.u_abs), r.u_rel, 0);
  }
}

}  // namespace airlatch
