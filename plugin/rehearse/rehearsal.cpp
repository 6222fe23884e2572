#include "plugin/rehearse/rehearsal.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>

#include "decoders/context.hpp"
#include "decoders/method/air.hpp"
#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/random.hpp"

namespace airlatch {
namespace {

constexpr double kLead_s = 0.5;        // quiet before the first feed
constexpr double kLeadSpread_s = 1.0;  // starts fall anywhere between a slow meter's readings
constexpr double kTail_s = 0.6;        // and after the last rest
constexpr double kFine_s = 20e-6;      // of the recorded course
constexpr double kDead_s = 2.5;        // a contact that does nothing is held this long at most
constexpr double kResponse_s = 0.3, kRunLimit_s = 15;  // the contract's defaults
constexpr double kDropout_s = 0.5;
constexpr double kGain = 0.002;  // the sensors' relative standard uncertainty

// The noise-free course while anything moves.
struct Course {
  struct Point {
    double t_s, i_a, supply_v, feed_v, return_v, line_kpa, w_rad_s, isothermal_kpa;
  };
  std::vector<Point> points;  // one stretch of movement
};

struct FeedChange {
  double t_s;
  int contact;
  bool on;
};

void vary(PumpParameters& p, Random& random) {
  const auto by = [&](double part) { return 1 + part * (2 * random.uniform() - 1); };
  p.u_oc_v *= by(0.02);
  p.r_int_ohm *= by(0.3);
  for (double& r : p.r_feed_ohm) r *= by(0.15);
  p.r_return_ohm *= by(0.15);
  p.r_ohm *= by(0.12);
  p.l_h *= by(0.2);
  p.k_vs *= by(0.08);
  p.j_kgm2 *= by(0.2);
  p.friction_nm *= by(0.15);
  p.displacement_m3 *= by(0.15);
  p.limit_pressure_kpa *= by(0.08);
  p.limit_vacuum_kpa *= by(0.08);
  p.volume_m3 *= by(0.1);
  p.tau_thermal_s *= by(0.4);
  if (p.tau_leak_pressure_s > 0) p.tau_leak_pressure_s *= by(0.3);
  if (p.tau_leak_vacuum_s > 0) p.tau_leak_vacuum_s *= by(0.3);
}

v1::Event event_of(v1::Kind kind, double t_s, int contact, bool command) {
  v1::Event event;
  event.set_kind(kind);
  event.set_time_s(t_s);
  event.set_contact(command ? v1::NONE : contact == 0 ? v1::A : v1::B);
  event.set_direction(contact == 0 ? v1::PRESSURE : v1::VACUUM);
  return event;
}

// First instant at or after points[from] where `get` passes `level` in the given sense.
template <class Get>
std::optional<std::size_t> pass(const std::vector<Course::Point>& points, std::size_t from, Get get,
                                double level, bool up) {
  for (std::size_t k = std::max<std::size_t>(from, 1); k < points.size(); ++k)
    if (up ? get(points[k]) >= level && get(points[k - 1]) < level
           : get(points[k]) < level && get(points[k - 1]) >= level)
      return k;
  return std::nullopt;
}

template <class Get>
double instant(const std::vector<Course::Point>& points, std::size_t k, Get get, double level) {
  const double a = get(points[k - 1]), b = get(points[k]);
  const double part = b == a ? 1 : (level - a) / (b - a);
  return points[k - 1].t_s + part * (points[k].t_s - points[k - 1].t_s);
}

double current(const Course::Point& point) { return point.i_a; }
double pressure(const Course::Point& point) { return point.line_kpa; }

// Everything the truth says about one movement of the motor.
class Truth {
 public:
  Truth(Rehearsal& out, bool command) : out_(out), command_(command) {}

  // A stretch in which the motor drew current at some time. `by_feed`: the feed ended it.
  void movement(const Course& course, int contact, bool by_feed, double feed_on_s, bool restarted) {
    const auto& points = course.points;
    std::size_t peak = 0;
    for (std::size_t k = 0; k < points.size() && points[k].t_s < points[0].t_s + 0.12; ++k)
      if (points[k].i_a > points[peak].i_a) peak = k;
    const double peak_a = points[peak].i_a;
    const auto start = pass(points, 0, current, 0.1 * peak_a, true);
    if (!start || peak_a < 0.3) return;
    const double start_s = instant(points, *start, current, 0.1 * peak_a);
    v1::Event on = event_of(v1::MOTOR_START, start_s, contact, command_);
    add_measure(on, "inrush_peak", {peak_a, 0}, "A");
    if (!restarted) add_measure(on, "feed_to_start", {start_s - feed_on_s, 0}, "s");
    add_measure(on, "supply_sag", {points[0].supply_v - points[peak].supply_v, 0}, "V");
    add_measure(on, "supply_resistance", {out_.parameters.r_int_ohm, 0}, "Ω");
    out_.truth.push_back(on);
    if (last_contact_ >= 0 && last_contact_ != contact) {
      v1::Event reversal = event_of(v1::DIRECTION_REVERSAL, start_s, contact, command_);
      add_measure(reversal, "rest_time", {start_s - last_stop_s_, 0}, "s");
      out_.truth.push_back(reversal);
    }
    if (restarted) {
      v1::Event again = event_of(v1::RESTART, start_s, contact, command_);
      add_measure(again, "hold_time", {start_s - last_stop_s_, 0}, "s");
      out_.truth.push_back(again);
    }
    // Falls and returns; the last fall is the stop.
    std::size_t k = peak;
    std::size_t stop = 0;
    double stop_s = 0, run_start_s = start_s + 0.12;
    while (true) {
      while (k < points.size() && points[k].t_s < run_start_s) ++k;
      const auto fall = fall_after(points, k);
      if (!fall) return;  // it never stopped: the capture ended
      const double running_a = mean_before(points, *fall);
      const double fall_s = instant_of_fall(points, *fall, 0.5 * running_a);
      const auto back = pass(points, *fall + 1, current, 0.5 * running_a, true);
      if (!back) {
        stop = *fall;
        stop_s = fall_s;
        break;
      }
      const double back_s = instant(points, *back, current, 0.5 * running_a);
      if (back_s - fall_s >= kDropout_s) {
        stop = *fall;
        stop_s = fall_s;
        break;
      }
      v1::Event dropout = event_of(v1::DROPOUT, fall_s, contact, command_);
      add_measure(dropout, "duration", {back_s - fall_s, 0}, "s");
      out_.truth.push_back(dropout);
      k = *back;
      run_start_s = back_s + 0.05;
    }
    locked(points, contact, start_s, stop_s, peak_a);
    if (stop_s - start_s > kRunLimit_s) {
      v1::Event run_on = event_of(v1::RUN_ON, start_s + kRunLimit_s, contact, command_);
      const auto at = pass_time(points, start_s + kRunLimit_s);
      add_measure(run_on, "pressure", {points[at].line_kpa, 0}, "kPa");
      out_.truth.push_back(run_on);
    }
    v1::Event off =
        event_of(by_feed ? v1::MOTOR_STOP : v1::STALL_CUTOFF, stop_s, contact, command_);
    run_measures(off, points, start_s, stop_s, *start, stop, contact);
    out_.truth.push_back(off);
    last_contact_ = contact;
    last_stop_s_ = stop_s;
  }
  [[nodiscard]] double last_stop_s() const { return last_stop_s_; }

 private:
  // The first sample of a collapse of the current: from there it is zero within a millisecond.
  static std::optional<std::size_t> fall_after(const std::vector<Course::Point>& points,
                                               std::size_t from) {
    for (std::size_t k = std::max<std::size_t>(from, 1); k < points.size(); ++k)
      if (points[k].i_a <= 0.02 && points[k - 1].i_a > 0.02) return k;
    return std::nullopt;
  }
  // Mean of the last 50 ms before the collapse that ends at `zero`.
  static double mean_before(const std::vector<Course::Point>& points, std::size_t zero) {
    double sum = 0, n = 0;
    const double end_s = points[zero].t_s - 0.0015;
    for (std::size_t k = zero; k-- > 0 && points[k].t_s > end_s - 0.05;)
      if (points[k].t_s <= end_s) {
        sum += points[k].i_a;
        n += 1;
      }
    return n > 0 ? sum / n : points[zero > 0 ? zero - 1 : 0].i_a;
  }
  static double instant_of_fall(const std::vector<Course::Point>& points, std::size_t zero,
                                double level) {
    std::size_t k = zero;
    while (k > 1 && points[k - 1].i_a < level) --k;
    return instant(points, k, current, level);
  }
  static std::size_t pass_time(const std::vector<Course::Point>& points, double t_s) {
    const auto it = std::lower_bound(points.begin(), points.end(), t_s,
                                     [](const Course::Point& p, double t) { return p.t_s < t; });
    return static_cast<std::size_t>(
        std::min<std::ptrdiff_t>(it - points.begin(), std::ssize(points) - 1));
  }
  void locked(const std::vector<Course::Point>& points, int contact, double start_s, double stop_s,
              double /*peak_a*/) {
    // A stretch of at least 0.3 s fed and without rotation.
    double since_s = -1;
    for (const auto& point : points) {
      if (point.t_s < start_s || point.t_s > stop_s) continue;
      if (point.w_rad_s > 1e-9 || point.i_a < 0.3) {
        since_s = -1;
        continue;
      }
      if (since_s < 0) since_s = point.t_s;
      if (point.t_s - since_s >= 0.3) {
        const bool from_start = since_s - start_s < 0.05;
        const double settled_a = points[pass_time(points, since_s + 0.25)].i_a;
        if (!from_start) {  // the 50 % instant of the rise from running to stall current
          const double half_a = (points[pass_time(points, since_s)].i_a + settled_a) / 2;
          if (const auto k = pass(points, pass_time(points, since_s), current, half_a, true))
            since_s = instant(points, *k, current, half_a);
        }
        v1::Event event =
            event_of(v1::LOCKED_ROTOR, from_start ? start_s : since_s, contact, command_);
        add_measure(event, "stall_current", {points[pass_time(points, since_s + 0.25)].i_a, 0},
                    "A");
        out_.truth.push_back(event);
        return;
      }
    }
  }
  void run_measures(v1::Event& stop, const std::vector<Course::Point>& points, double start_s,
                    double stop_s, std::size_t from, std::size_t to, int contact) const {
    add_measure(stop, "run_time", {stop_s - start_s, 0}, "s");
    double energy = 0, mean = 0, mean_n = 0, end = 0, end_n = 0, w = 0, w_n = 0;
    for (std::size_t k = from; k <= to; ++k) {
      const auto& point = points[k];
      if (point.t_s > stop_s) break;
      const double step_s = point.t_s - points[k - 1].t_s;
      energy += (point.feed_v - point.return_v) * point.i_a * step_s;
      if (point.t_s >= start_s + 0.2) mean += point.i_a * step_s, mean_n += step_s;
      if (point.t_s >= stop_s - 0.05 && point.t_s < stop_s - 0.0005)
        end += point.i_a * step_s, end_n += step_s;
      if (point.t_s >= std::max(stop_s - 0.202, start_s + 0.15) && point.t_s < stop_s - 0.002)
        w += point.w_rad_s * step_s, w_n += step_s;
    }
    if (stop_s - start_s > 0.4) add_measure(stop, "run_current", {mean / mean_n, 0}, "A");
    add_measure(stop, "end_current", {end / end_n, 0}, "A");
    const double p0 = points[from].line_kpa, p1 = points[pass_time(points, stop_s)].line_kpa;
    add_measure(stop, "end_pressure", {p1, 0}, "kPa");
    const double sign = p1 < p0 ? -1 : 1;
    const auto level = [&](double part) {
      return pass(
          points, from, [&](const Course::Point& point) { return sign * point.line_kpa; },
          sign * (p0 + part * (p1 - p0)), true);
    };
    const auto t10 = level(0.1), t50 = level(0.5);
    if (t10 && t50 && std::abs(p1 - p0) > 0.5)
      add_measure(stop, "rise_rate",
                  {0.4 * std::abs(p1 - p0) /
                       (instant(points, *t50, pressure, p0 + 0.5 * (p1 - p0)) -
                        instant(points, *t10, pressure, p0 + 0.1 * (p1 - p0))),
                   0},
                  "kPa/s");
    add_measure(stop, "energy", {energy, 0}, "J");
    if (!command_)
      add_measure(stop, "feed_path_resistance",
                  {out_.parameters.r_feed_ohm[static_cast<std::size_t>(contact)], 0}, "Ω");
    add_measure(stop, "return_path_resistance", {out_.parameters.r_return_ohm, 0}, "Ω");
    const PumpParameters& motor = out_.parameters;
    add_measure(stop, "motor_resistance", {motor.r_ohm, 0}, "Ω");
    add_measure(stop, "motor_inductance", {motor.l_h, 0}, "H");
    add_measure(stop, "mechanical_time_constant",
                {motor.j_kgm2 * motor.r_ohm / (motor.k_vs * motor.k_vs), 0}, "s");
    add_measure(stop, "motor_constant", {motor.k_vs, 0}, "V·s");
    if (w_n > 0 && w / w_n > 1)
      add_measure(stop, "shaft_speed", {w / w_n * 60 / (2 * std::numbers::pi), 0}, "rev/min");
  }

  Rehearsal& out_;
  bool command_;
  int last_contact_ = -1;
  double last_stop_s_ = 0;
};

struct Sensor {
  const char* name;
  v1::Role role;
  double noise, range_min, range_max, offset;
  double gain = 1;
};

}  // namespace

double Rehearsal::Decay::pressure_kpa(double t_s) const {
  return tau_s > 0 ? isothermal_kpa * std::exp(-(t_s - stop_s) / tau_s) : isothermal_kpa;
}

double Rehearsal::Decay::slope_kpa_s(double t_s) const {
  return tau_s > 0 ? -pressure_kpa(t_s) / tau_s : 0;
}

Rehearsal rehearse(const RehearseOptions& options) {
  const Fault& fault = find_fault(options.fault);
  Random random(options.seed * 0x9e3779b97f4a7c15ULL + 12345);
  Random noise((options.noise_seed ? options.noise_seed : options.seed) * 0x9e3779b97f4a7c15ULL +
               54321);  // its own: rates change no script
  PumpParameters p;
  p.friction_nm = 0.03;
  Script script;
  script.phases = {{.contact = 0}, {.contact = 1}};
  fault.apply(p, script);
  if (options.leak_tau_s) p.tau_leak_pressure_s = p.tau_leak_vacuum_s = *options.leak_tau_s;
  p.heat_share *= options.heat;
  if (options.vary) vary(p, random);
  for (FeedPhase& phase : script.phases) phase.rest_s = std::min(phase.rest_s, options.hold_s);

  Rehearsal out;
  out.finding = fault.finding;
  out.parameters = p;
  out.clock = SampleClock::of_rate(options.rate_hz);
  PumpModel model(p);
  model.set_dead(script.dead_contact);
  Truth truth(out, script.command);

  // Sensors, with an offset of their own and a range whose ends clip.
  const double clip_a = script.clip_current_a > 0 ? script.clip_current_a : 20;
  std::vector<Sensor> sensors = {
      {"supply_v", v1::SUPPLY_VOLTAGE, options.volt_noise_v, -2, 20, 0.01 * random.normal()},
      {"feed_a_v", v1::FEED_A_VOLTAGE, options.volt_noise_v, -2, 20, 0.01 * random.normal()},
      {"feed_b_v", v1::FEED_B_VOLTAGE, options.volt_noise_v, -2, 20, 0.01 * random.normal()},
      {"return_v", v1::RETURN_VOLTAGE, options.volt_noise_v, -5, 15, 0.01 * random.normal()},
      {"motor_a", v1::MOTOR_CURRENT, options.motor_noise_a, -clip_a, clip_a,
       0.03 * random.normal()},
      {"line_kpa", v1::LINE_PRESSURE, options.line_noise_kpa, -100, 100, 0.1 * random.normal()}};
  if (script.command) {
    sensors.erase(sensors.begin() + 1, sensors.begin() + 3);
    sensors.push_back({"command", v1::COMMAND_LEVEL, options.volt_noise_v, -2, 20, 0});
  }
  for (Sensor& sensor : sensors) {
    sensor.gain = 1 + kGain * random.normal();
    out.channels.push_back({sensor.name, sensor.role, {}});
    auto& entry = *out.rig.add_channel();
    entry.set_source(sensor.name);
    entry.set_role(sensor.role);
    entry.set_range_min(sensor.range_min);
    entry.set_range_max(sensor.range_max);
    entry.set_u_rel(kGain);
    entry.set_u_abs(sensor.role == v1::LINE_PRESSURE   ? 0.1
                    : sensor.role == v1::MOTOR_CURRENT ? 0.03
                                                       : 0.01);
  }
  out.rig.set_name("rehearsal, invented: Saltmarsh Garage");
  out.rig.set_contact_a_direction(v1::UNKNOWN);
  // As a technician knows it: measured to 2 %, written down in whole millilitres.
  out.rig.set_line_volume_ml(std::round(p.volume_m3 * 1e6 * (1 + 0.02 * random.normal())));
  out.rig.set_line_volume_u_ml(std::round(0.2 * p.volume_m3 * 1e6) / 10);
  out.rig.set_commutator_segments(static_cast<std::uint32_t>(p.ripples_per_turn));

  bool command_high = false;
  const auto reading = [&](const Sensor& sensor) {
    double v = 0;
    switch (sensor.role) {
      case v1::SUPPLY_VOLTAGE:
        v = model.supply_v();
        break;
      case v1::FEED_A_VOLTAGE:
        v = model.feed_v(0);
        break;
      case v1::FEED_B_VOLTAGE:
        v = model.feed_v(1);
        break;
      case v1::RETURN_VOLTAGE:
        v = model.return_v();
        break;
      case v1::MOTOR_CURRENT:
        v = model.current_a();
        break;
      case v1::COMMAND_LEVEL:
        v = command_high ? p.u_oc_v : 0;
        break;
      default:
        v = model.line_kpa();
        break;
    }
    v = v * sensor.gain + sensor.offset + options.noise * sensor.noise * noise.normal();
    if (options.bits > 0) {
      const double step = (sensor.range_max - sensor.range_min) / std::exp2(options.bits);
      v = sensor.range_min + step * std::round((v - sensor.range_min) / step);
    }
    return static_cast<float>(std::clamp(v, sensor.range_min, sensor.range_max));
  };

  // Time goes on to `to_s`: samples fall where they fall, the course is kept while it moves.
  std::int64_t sample = 0;
  Course course;
  struct Movement {
    Course course;
    int contact;
    bool by_feed;
    double feed_on_s;
    bool restarted;
  };
  double feed_on_s = 0;
  bool cut_since_feed = false;
  std::vector<Movement> movements;
  const auto record = [&] {
    const bool moving = model.driven() || model.speed_rad_s() > 0 || model.current_a() > 0;
    const Course::Point point{
        model.time_s(),   model.current_a(), model.supply_v(),    model.feed_v(model.contact()),
        model.return_v(), model.line_kpa(),  model.speed_rad_s(), model.isothermal_kpa()};
    if (moving && course.points.empty()) {
      // A point of rest just before, for crossings of the first step.
      Course::Point rest = point;
      rest.i_a = 0;
      rest.supply_v = p.u_oc_v;
      rest.t_s = point.t_s - kFine_s;
      course.points.push_back(rest);
    }
    if (!course.points.empty()) course.points.push_back(point);
  };
  const auto close_movement = [&](bool by_feed) {
    if (course.points.size() > 2)
      movements.push_back({std::move(course), model.contact(), by_feed, feed_on_s, cut_since_feed});
    course = {};
  };
  const auto run_to = [&](double to_s) {
    while (model.time_s() < to_s - 1e-9) {
      const double next_s = static_cast<double>(out.clock.time_ns(sample)) * 1e-9;
      const bool moving =
          model.driven() || model.speed_rad_s() > 0 || model.current_a() > 0 || p.rearms;
      double step_to_s = std::min(to_s, std::max(next_s, model.time_s()));
      if (moving) step_to_s = std::min(step_to_s, model.time_s() + kFine_s);
      if (next_s <= model.time_s() + 1e-12) {
        for (std::size_t c = 0; c < sensors.size(); ++c)
          out.channels[c].values.push_back(reading(sensors[c]));
        ++sample;
        continue;
      }
      model.advance(step_to_s);
      record();
    }
  };

  std::vector<FeedChange> feeds;
  run_to(kLead_s + kLeadSpread_s * random.uniform());
  for (std::size_t index = 0; index < script.phases.size(); ++index) {
    const FeedPhase& phase = script.phases[index];
    const double on_s = model.time_s();
    const bool live_source = p.u_oc_v > 3.6;
    feed_on_s = on_s;
    cut_since_feed = false;
    command_high = phase.contact == 0;
    model.feed(phase.contact, true);
    if (live_source && !(script.command && phase.contact == 1))
      feeds.push_back({on_s, phase.contact, true});
    if (script.command && phase.contact == 1) feeds.push_back({on_s, 0, false});
    record();
    if (script.bounce_s > 0)
      for (int k = 1; k <= 3; ++k) {
        run_to(on_s + script.bounce_s * (2 * k - 1) / 6);
        model.open_wire(true);
        model.advance(model.time_s());
        run_to(on_s + script.bounce_s * 2 * k / 6);
        model.open_wire(false);
      }
    struct Action {
      double t_s;
      bool open, brush;
    };
    std::vector<Action> actions;
    for (const Interruption& gap : script.interruptions)
      if (gap.phase == static_cast<int>(index)) {
        const double at_s = on_s + gap.at_s * (0.9 + 0.2 * random.uniform());
        actions.push_back({at_s, true, gap.brush});
        actions.push_back({at_s + gap.length_s * (0.9 + 0.2 * random.uniform()), false, gap.brush});
      }
    bool responded = false;
    double cut_s = -1;
    std::size_t next_action = 0;
    bool jammed = false;
    double off_s = on_s + (p.rearms ? phase.keep_s : phase.most_s);
    const double step_s = 0.001;
    const auto watch = [&] {
      if (next_action < actions.size() && model.time_s() >= actions[next_action].t_s - 1e-9) {
        const Action& action = actions[next_action++];
        if (action.brush) {
          model.open_brush(action.open);
        } else {
          model.open_wire(action.open);
          feeds.push_back({model.time_s(), phase.contact, !action.open});
        }
      }
      if (script.jam_at_s > 0 && !jammed && index == 0 &&
          model.time_s() >= on_s + script.jam_at_s) {
        model.seize(true);
        jammed = true;
      }
    };
    const auto next_stop = [&](double limit_s) {
      double to_s = std::min(limit_s, model.time_s() + step_s);
      if (next_action < actions.size())
        to_s = std::min(to_s, std::max(actions[next_action].t_s, model.time_s() + 1e-6));
      return to_s;
    };
    while (model.time_s() < off_s - 1e-9) {
      run_to(next_stop(off_s));
      watch();
      responded = responded || model.driven();
      if (responded && model.cut_off() && cut_s < 0) {
        cut_s = model.time_s();
        // What moves still coasts to rest before the movement is closed.
        while (model.speed_rad_s() > 0) run_to(model.time_s() + step_s);
        close_movement(false);
        cut_since_feed = true;
        if (!p.rearms) off_s = cut_s + phase.keep_s;
      }
      if (p.rearms && model.driven()) cut_s = -1;
      if (!responded && model.time_s() > on_s + kDead_s) break;
    }
    const double gone_s = model.time_s();
    const bool by_feed = !course.points.empty();
    if (!script.command) {
      model.feed(phase.contact, false);
      if (live_source) feeds.push_back({gone_s, phase.contact, false});
    }
    if (by_feed) {
      while (model.speed_rad_s() > 0 || model.current_a() > 0) run_to(model.time_s() + step_s);
      close_movement(true);
    }
    if (!responded && live_source && !script.command && gone_s - on_s > kResponse_s) {
      v1::Event none = event_of(v1::NO_RESPONSE, on_s, phase.contact, script.command);
      add_measure(none, "waited", {kResponse_s, 0}, "s");
      out.truth.push_back(none);
    }
    const double rest_from_s = cut_s >= 0 ? cut_s : gone_s;
    run_to(rest_from_s + phase.rest_s + 0.5 * random.uniform());
  }
  run_to(model.time_s() + kTail_s);

  for (const Movement& m : movements)
    truth.movement(m.course, m.contact, m.by_feed, m.feed_on_s, m.restarted);
  for (const FeedChange& change : feeds) {
    v1::Event event = event_of(change.on ? v1::FEED_ON : v1::FEED_OFF, change.t_s, change.contact,
                               script.command);
    out.truth.push_back(event);
  }
  // Rests: from each stop to the next start or the end.
  std::stable_sort(out.truth.begin(), out.truth.end(),
                   [](const v1::Event& a, const v1::Event& b) { return a.time_s() < b.time_s(); });
  const double end_s = static_cast<double>(out.clock.time_ns(sample)) * 1e-9;
  std::vector<v1::Event> decays;
  for (std::size_t k = 0; k < out.truth.size(); ++k) {
    const v1::Event& stop = out.truth[k];
    if (stop.kind() != v1::STALL_CUTOFF && stop.kind() != v1::MOTOR_STOP) continue;
    double until_s = end_s;
    for (std::size_t j = k + 1; j < out.truth.size(); ++j)
      if (out.truth[j].kind() == v1::MOTOR_START) {
        until_s = out.truth[j].time_s();
        break;
      }
    double held_kpa = 0;
    for (const v1::Measure& m : stop.measures())
      if (m.name() == "end_pressure") held_kpa = m.value();
    // The isothermal pressure at the stop, from the movement's last point.
    double isothermal_kpa = held_kpa;
    for (const Movement& m : movements)
      if (m.course.points.front().t_s < stop.time_s() &&
          m.course.points.back().t_s >= stop.time_s() - 1e-3)
        isothermal_kpa = m.course.points.back().isothermal_kpa;
    Rehearsal::Decay decay;
    decay.stop_s = stop.time_s();
    decay.window_s = stop.time_s() + std::min(4 * p.tau_thermal_s, (until_s - stop.time_s()) / 2);
    decay.end_s = until_s;
    decay.tau_s = held_kpa > 0 ? p.tau_leak_pressure_s : p.tau_leak_vacuum_s;
    decay.isothermal_kpa = isothermal_kpa;
    if (until_s - stop.time_s() < 3 || std::abs(held_kpa) < 3) continue;
    out.decays.push_back(decay);
  }
  for (Rehearsal::Decay& decay : out.decays) {
    v1::Event event =
        event_of(v1::LEAK_DECAY, decay.window_s, decay.isothermal_kpa > 0 ? 0 : 1, script.command);
    const double slope = decay.slope_kpa_s(decay.window_s);
    add_measure(event, "duration", {decay.end_s - decay.window_s, 0}, "s");
    add_measure(event, "start_pressure", {decay.pressure_kpa(decay.window_s), 0}, "kPa");
    add_measure(event, "slope", {slope, 0}, "kPa/s");
    add_measure(event, "decay_rate", {std::abs(slope) * 60, 0}, "kPa/min");
    if (decay.tau_s > 0) add_measure(event, "time_constant", {decay.tau_s, 0}, "s");
    const double q = p.volume_m3 * std::abs(slope) * 1000;
    add_measure(event, "leak_rate", {q, 0}, "Pa·m³/s");
    if (q > 0)
      add_measure(event, "leak_hole",
                  {leak_hole_mm(q, decay.pressure_kpa(decay.window_s), p.temperature_k), 0}, "mm");
    decays.push_back(event);
  }
  for (v1::Event& event : decays) out.truth.push_back(std::move(event));

  // Faults of the instruments.
  if (script.gap_at_s > 0) {
    const std::int64_t from = out.clock.index_at_or_after(
                           static_cast<std::int64_t>(script.gap_at_s * 1e9)),
                       to = out.clock.index_at_or_after(
                           static_cast<std::int64_t>((script.gap_at_s + script.gap_s) * 1e9));
    for (auto& channel : out.channels)
      for (std::int64_t k = from; k < to && k < std::ssize(channel.values); ++k)
        channel.values[static_cast<std::size_t>(k)] = std::numeric_limits<float>::quiet_NaN();
    if (to > from) {
      v1::Event gap;
      gap.set_kind(v1::GAP);
      gap.set_time_s(static_cast<double>(out.clock.time_ns(from)) * 1e-9);
      add_measure(gap, "duration",
                  {static_cast<double>(out.clock.time_ns(to) - out.clock.time_ns(from)) * 1e-9, 0},
                  "s");
      out.truth.push_back(gap);
    }
  }
  if (script.clip_current_a > 0) {
    const auto& channel = out.channels[script.command ? 2 : 4];
    std::int64_t first = -1, last = -1;
    const auto tell = [&] {
      if (first < 0) return;
      v1::Event clipped;
      clipped.set_kind(v1::CLIPPED);
      clipped.set_time_s(static_cast<double>(out.clock.time_ns(first)) * 1e-9);
      add_measure(
          clipped, "duration",
          {static_cast<double>(out.clock.time_ns(last + 1) - out.clock.time_ns(first)) * 1e-9, 0},
          "s");
      out.truth.push_back(clipped);
      first = -1;
    };
    for (std::int64_t k = 0; k < std::ssize(channel.values); ++k) {
      if (static_cast<double>(channel.values[static_cast<std::size_t>(k)]) <
          script.clip_current_a * 0.999)
        continue;
      if (first >= 0 && static_cast<double>(out.clock.time_ns(k) - out.clock.time_ns(last)) > 1e7)
        tell();
      if (first < 0) first = k;
      last = k;
    }
    tell();
  }
  std::stable_sort(out.truth.begin(), out.truth.end(),
                   [](const v1::Event& a, const v1::Event& b) { return a.time_s() < b.time_s(); });
  return out;
}

}  // namespace airlatch
