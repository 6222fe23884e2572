// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/run_truth.hpp"

#include <utility>

#include "decoders/context.hpp"
#include "plugin/rehearse/run_measures.hpp"
#include "plugin/rehearse/true_event.hpp"

namespace airlatch {
namespace {

constexpr double kRunLimit_s = 15;  // the contract's default
constexpr double kDropout_s = 0.5;  // the contract's: a longer one is a stop
constexpr double kInrush_s = 0.12;
constexpr double kSettled_s = 0.05;  // after a dropout
constexpr double kLeastPeak_a = 0.3;
constexpr double kLocked_s = 0.3, kLockedSettled_s = 0.25;
constexpr double kStandstill_rad_s = 1e-9, kLeastLocked_a = 0.3;

std::size_t inrush_peak(const Course& course) {
  std::size_t peak = 0;
  for (std::size_t k = 0; k < course.size() && course[k].t_s < course[0].t_s + kInrush_s; ++k)
    if (course[k].i_a > course[peak].i_a) peak = k;
  return peak;
}

// Since when the first stretch of kLocked_s has been fed and without rotation.
std::optional<double> standstill_since_s(const Run& run) {
  std::optional<double> since_s;
  for (const CoursePoint& point : run.course) {
    if (point.t_s < run.start.time_s || point.t_s > run.stop.time_s) continue;
    if (point.w_rad_s > kStandstill_rad_s || point.i_a < kLeastLocked_a) {
      since_s.reset();
      continue;
    }
    if (!since_s) since_s = point.t_s;
    if (point.t_s - *since_s >= kLocked_s) return since_s;
  }
  return std::nullopt;
}

class RunTruth {
 public:
  RunTruth(const PumpParameters& p, bool command) : p_(p), command_(command) {}

  void add(const Movement& movement) {
    const Course& course = movement.course;
    contact_ = movement.contact;
    const std::size_t peak = inrush_peak(course);
    const double peak_a = course[peak].i_a;
    const auto start = rise_through(course, 0, current_of, 0.1 * peak_a);
    if (!start || peak_a < kLeastPeak_a) return;
    add_start(movement, *start, course[peak]);
    const auto stop = add_dropouts(course, peak, start->time_s + kInrush_s);
    if (!stop) return;
    const Run run{.course = course, .start = *start, .stop = *stop};
    add_locked_rotor(run);
    add_run_on(run);
    const Kind kind = movement.by_feed ? Kind::MOTOR_STOP : Kind::STALL_CUTOFF;
    Event off = event(kind, stop->time_s);
    add_run_measures(off, run, p_, contact_, command_);
    truth_.push_back(off);
    last_ = Last{.contact = contact_, .stop_s = stop->time_s};
  }
  std::vector<Event> take() { return std::move(truth_); }

 private:
  [[nodiscard]] Event event(Kind kind, double t_s) const {
    return true_event(kind, t_s, contact_, command_);
  }

  void add_start(const Movement& movement, const Crossing& start, const CoursePoint& peak) {
    Event on = event(Kind::MOTOR_START, start.time_s);
    add_measure(on, "inrush_peak", {peak.i_a, 0}, "A");
    if (!movement.restarted)
      add_measure(on, "feed_to_start", {start.time_s - movement.feed_on_s, 0}, "s");
    add_measure(on, "supply_sag", {movement.course[0].supply_v - peak.supply_v, 0}, "V");
    add_measure(on, "supply_resistance", {p_.r_int_ohm, 0}, "Ω");
    truth_.push_back(on);
    if (last_.contact >= 0 && last_.contact != contact_) {
      Event reversal = event(Kind::DIRECTION_REVERSAL, start.time_s);
      add_measure(reversal, "rest_time", {start.time_s - last_.stop_s, 0}, "s");
      truth_.push_back(reversal);
    }
    if (movement.restarted) {
      Event again = event(Kind::RESTART, start.time_s);
      add_measure(again, "hold_time", {start.time_s - last_.stop_s, 0}, "s");
      truth_.push_back(again);
    }
  }

  // Falls that return soon are dropouts; the first that does not is the stop. Nothing where the
  // capture ended before it.
  std::optional<Crossing> add_dropouts(const Course& course, std::size_t k, double running_s) {
    while (true) {
      while (k < course.size() && course[k].t_s < running_s) ++k;
      const auto fall = fall_to_nothing(course, k);
      if (!fall) return std::nullopt;
      const auto back = rise_through(course, fall->half.at + 1, current_of, fall->half_a);
      if (!back || back->time_s - fall->half.time_s >= kDropout_s) return fall->half;
      Event dropout = event(Kind::DROPOUT, fall->half.time_s);
      add_measure(dropout, "duration", {back->time_s - fall->half.time_s, 0}, "s");
      truth_.push_back(dropout);
      k = back->at;
      running_s = back->time_s + kSettled_s;
    }
  }

  void add_locked_rotor(const Run& run) {
    const auto standstill_s = standstill_since_s(run);
    if (!standstill_s) return;
    const auto stall_a = [&](double since_s) {
      return run.course[index_at(run.course, since_s + kLockedSettled_s)].i_a;
    };
    double since_s = *standstill_s;
    const bool from_start = since_s - run.start.time_s < kSettled_s;
    if (!from_start) {  // the 50 % instant of the rise from running to stall current
      const std::size_t at = index_at(run.course, since_s);
      const double half_a = (run.course[at].i_a + stall_a(since_s)) / 2;
      if (const auto rise = rise_through(run.course, at, current_of, half_a))
        since_s = rise->time_s;
    }
    Event locked = event(Kind::LOCKED_ROTOR, from_start ? run.start.time_s : since_s);
    add_measure(locked, "stall_current", {stall_a(since_s), 0}, "A");
    truth_.push_back(locked);
  }

  void add_run_on(const Run& run) {
    if (run.stop.time_s - run.start.time_s <= kRunLimit_s) return;
    const double limit_s = run.start.time_s + kRunLimit_s;
    Event run_on = event(Kind::RUN_ON, limit_s);
    const double line_kpa = run.course[index_at(run.course, limit_s)].line_kpa;
    add_measure(run_on, "pressure", {line_kpa, 0}, "kPa");
    truth_.push_back(run_on);
  }

  struct Last {
    int contact = -1;  // none yet
    double stop_s = 0;
  };
  const PumpParameters& p_;
  bool command_;
  int contact_ = 0;  // of the movement at hand
  Last last_;
  std::vector<Event> truth_;
};

}  // namespace

std::vector<Event> truth_of_runs(const std::vector<Movement>& movements, const PumpParameters& p,
                                 bool command) {
  RunTruth truth(p, command);
  for (const Movement& movement : movements) truth.add(movement);
  return truth.take();
}

}  // namespace airlatch
