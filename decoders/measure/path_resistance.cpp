// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/path_resistance.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/measure/level.hpp"
#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {
using Stretch = PathResistance::Stretch;
constexpr double kFall_s = 0.003;         // before a fall of the current: its path is being opened
constexpr double kSettled_s = 0.02;       // after a contact's touch, or a fall: it has settled
constexpr double kInrushTo_s = 0.08;      // the inrush is still well above the running current
constexpr double kStands_s = 0.2;         // a motor that brakes itself draws nothing more
constexpr double kRestTo_s = 0.45;        // after the stop
constexpr double kShortestRest_s = 0.03;  // more than a period of hum
constexpr double kShortestRun_s = 0.02;
constexpr double kBefore_s = 1;     // nothing flowed, as long as this, before the run
constexpr double kStillFed = 0.9;   // of its voltage at rest
constexpr double kAsLoaded = 0.98;  // of its voltage in the run, at least
constexpr double kOpen = 0.15;      // of the nominal voltage: no source reaches the contact
constexpr double kLeast_a = 0.3;    // a motor that is fed draws more
constexpr double kLeastRise = 0.2;  // of the running current, for a comparison with the inrush
// Of a voltmeter whose accuracy the rig does not state (common practice, no source).
constexpr double kUnstatedOffset_v = 0.02;

// One path's voltage in a stretch, less another: supply and feed, or the return alone.
struct Path {
  Role high, low;
  [[nodiscard]] bool differs() const { return low != Role::UNSPECIFIED; }
};

struct Compared {
  double ohm = 0, u = 0;
};

double voltage(const Stretch& at, const Path& path) {
  return path.differs() ? at.supply.mean() - at.feed.mean() : at.back.mean();
}

// Of the difference of the path's voltage between two stretches.
double u_difference_v(const CaptureContext& context, const Path& path, const Stretch& a,
                      const Stretch& b) {
  const Stretch &early = a.from_s < b.from_s ? a : b, &late = a.from_s < b.from_s ? b : a;
  double variance = 0;
  for (const Role role : {path.high, path.low}) {
    if (role == Role::UNSPECIFIED) continue;
    const Track& track = context.track(role);
    const double long_s = std::max(late.to_s - late.from_s, track.period_s());
    const double before_s = std::max(early.to_s - early.from_s, track.period_s());
    variance += context.noise_of(role).variance_of_difference(
                    long_s, before_s, std::max(0.0, late.from_s - early.to_s)) +
                2 * elementary::square(track.quantisation_error());
  }
  return std::sqrt(variance);
}

void weigh(std::optional<Compared>& all, const Compared& one) {
  if (!all) {
    all = one;
    return;
  }
  const double a = 1 / (all->u * all->u), b = 1 / (one.u * one.u);
  all = Compared{(a * all->ohm + b * one.ohm) / (a + b), 1 / std::sqrt(a + b)};
}

double offset_v(const CaptureContext& context, const Path& path) {
  const auto& high = context.entry(path.high);
  const double gain = path.differs() ? combine(high.u_rel, context.entry(path.low).u_rel) : 0;
  const double u_v = combine(high.u_abs, path.differs() ? context.entry(path.low).u_abs : 0,
                             gain * context.nominal_v);
  return u_v > 0 ? u_v : kUnstatedOffset_v;
}
}  // namespace

void Stretch::add(const CaptureContext& context, Role feed_role, double begin_s, double end_s) {
  if (begin_s >= end_s) return;
  const auto more = [&](Sum& to, Role role) {
    const Track& track = context.track(role);
    if (track.empty()) return;
    const std::int64_t from = track.first_at_or_after(begin_s),
                       end = track.first_at_or_after(end_s);
    if (from >= end) return;
    to.sum += sum(track.values(from, end));
    to.n += static_cast<double>(end - from);
  };
  more(current, Role::MOTOR_CURRENT);
  more(supply, Role::SUPPLY_VOLTAGE);
  if (feed_role != Role::COMMAND_LEVEL) more(feed, feed_role);
  more(back, Role::RETURN_VOLTAGE);
  if (to_s <= from_s) from_s = begin_s;
  to_s = end_s;
}

void PathResistance::take(const CaptureContext& context, const RunFacts& run, double from_s,
                          double to_s) {
  const Role feed = CaptureContext::feed_role(run.contact);
  const double period_s = context.track(Role::MOTOR_CURRENT).period_s();
  const double fall_s = std::max(kFall_s, 1.5 * period_s);
  if (run.stop_s > run.start_s) to_s = std::min(to_s, run.stop_s - fall_s);
  // Around the latest interruption.
  const double dip_s = run.dip_from_s - fall_s, after_s = run.dip_to_s + Level::kInrushOver_s;
  const bool dips = run.dip_to_s > run.dip_from_s && dip_s < to_s && after_s > from_s;
  const auto add = [&](Stretch& to, double begin_s, double end_s) {
    begin_s = std::max(begin_s, from_s);
    end_s = std::min(end_s, to_s);
    to.add(context, feed, begin_s, dips ? std::min(end_s, dip_s) : end_s);
    if (dips) to.add(context, feed, std::max(begin_s, after_s), end_s);
  };
  const double settled_s = run.start_s + std::max(kSettled_s, 1.5 * period_s);
  add(inrush_, settled_s, run.start_s + kInrushTo_s);
  add(running_, run.start_s + std::max(Level::kInrushOver_s, 1.5 * period_s), to_s);
  clipped_ =
      clipped_ || context.clips.any(Role::MOTOR_CURRENT,
                                    std::max(from_s, run.start_s + Level::kInrushOver_s), to_s);
}

// After the stop, when nothing flows; `while_fed`: as long as the contact still stands at the source.
PathResistance::Stretch PathResistance::rest_after(const CaptureContext& context,
                                                   const RunFacts& run, bool while_fed) const {
  const Role feed_role = CaptureContext::feed_role(run.contact);
  const Track& feed = context.track(feed_role);
  const Track& own = context.track(while_fed ? Role::SUPPLY_VOLTAGE : Role::RETURN_VOLTAGE);
  const double step_s = 1.5 * std::max(feed.period_s(), own.period_s());
  const double from_s = run.stop_s + std::max(while_fed ? kSettled_s : kStands_s, step_s);
  double to_s = run.stop_s + std::max(kRestTo_s, 4 * step_s);
  Stretch rest;
  if (while_fed) {
    if (run.contact == Contact::NONE || feed.empty()) return rest;
    const auto at_once = feed.mean(from_s, from_s + std::max(kShortestRest_s, step_s));
    // A cut-off takes the load off; a contact that was let go, and is held up by a motor that coasts,
    // stands lower than before.
    const double loaded_v = running_.feed.n > 0 ? running_.feed.mean() : inrush_.feed.mean();
    if (!at_once || at_once->value < std::max(kOpen * context.nominal_v, kAsLoaded * loaded_v))
      return rest;
    for (std::int64_t k = feed.first_at_or_after(from_s); k < feed.end() && feed.time_s(k) < to_s;
         ++k)
      if (feed.value(k) < kStillFed * at_once->value) to_s = feed.time_s(k) - step_s;
  }
  if (to_s - from_s >= kShortestRest_s) rest.add(context, feed_role, from_s, to_s);
  return rest;
}

void PathResistance::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  const Role feed = CaptureContext::feed_role(run.contact);
  const bool has_feed =
      run.contact != Contact::NONE && context.has(feed) && context.has(Role::SUPPLY_VOLTAGE);
  const Stretch fed_rest = rest_after(context, run, true);
  const Stretch still = rest_after(context, run, false);
  const bool short_run = running_.current.n < 1 || running_.to_s - running_.from_s < kShortestRun_s;
  const Stretch& mostly = short_run ? inrush_ : running_;
  const Uncertain run_a = mostly.current.n > 0 ? mean_current(context, run, mostly.current.mean(),
                                                              mostly.from_s, mostly.to_s)
                                               : Uncertain{};

  const auto determine = [&](const char* name, const Path& path, double sag_ohm) {
    const bool seen = path.differs() ? mostly.supply.n > 0 && mostly.feed.n > 0 : mostly.back.n > 0;
    if (clipped_) {
      add_missing(stop, name, MissingCode::OUT_OF_RANGE,
                  "the current went beyond its sensor's range");
      return;
    }
    if (!seen || run_a.value < kLeast_a) {
      add_missing(stop, name, MissingCode::CUT_SHORT, "too few readings in the run");
      return;
    }
    std::optional<Compared> all;
    const Stretch& rest = path.differs() ? fed_rest : still;
    const bool rested = path.differs() ? rest.supply.n > 0 && rest.feed.n > 0 : rest.back.n > 0;
    const double running_v = voltage(mostly, path);
    if (rested) {
      const double u_v = u_difference_v(context, path, mostly, rest);
      weigh(all, {(running_v - voltage(rest, path)) / run_a.value, u_v / run_a.value});
    } else {
      Stretch nothing;
      nothing.from_s = run.start_s - kBefore_s;
      nothing.to_s = run.start_s;
      const double u_v =
          combine(u_difference_v(context, path, nothing, mostly), offset_v(context, path));
      weigh(all, {running_v / run_a.value, u_v / run_a.value});
    }
    const double rise_a = run.sign * (inrush_.current.mean() - mostly.current.mean());
    if (!rested && !short_run && inrush_.current.n > 1 && rise_a > kLeastRise * run_a.value) {
      const double u_v = u_difference_v(context, path, inrush_, running_);
      weigh(all, {(voltage(inrush_, path) - running_v) / rise_a, u_v / rise_a});
    }
    const double ohm = all->ohm,
                 u_path = combine(context.entry(path.high).u_rel,
                                  path.differs() ? context.entry(path.low).u_rel : 0);
    // Two meters on nearly equal voltages: a difference of their gains turns the source's own sag into
    // path resistance.
    const double u_gain = path.differs() ? u_path * sag_ohm : u_path * ohm;
    add_measure(stop, name,
                {ohm, combine(all->u, ohm * run_a.u / run_a.value,
                              ohm * context.entry(Role::MOTOR_CURRENT).u_rel, u_gain)},
                "Ω");
  };

  if (!has_feed) {
    add_missing(stop, "feed_path_resistance", MissingCode::NO_CHANNEL,
                "needs the supply and the driven contact's voltage");
  } else {
    const double sag_ohm =
        run_a.value > 0 && fed_rest.supply.n > 0
            ? std::abs(fed_rest.supply.mean() - mostly.supply.mean()) / run_a.value
            : 0;
    determine("feed_path_resistance", {Role::SUPPLY_VOLTAGE, feed}, sag_ohm);
  }
  if (!context.has(Role::RETURN_VOLTAGE))
    add_missing(stop, "return_path_resistance", MissingCode::NO_CHANNEL, "no return channel");
  else
    determine("return_path_resistance", {Role::RETURN_VOLTAGE, Role::UNSPECIFIED}, 0);
}

}  // namespace airlatch
