// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/leak_decay.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "decoders/method/air.hpp"
#include "decoders/method/decay_fit.hpp"
#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {
constexpr double kStep_s = 0.02;      // a period of mains hum, and short beside any decay
constexpr double kSettle_s = 0.2;     // the motor coasts and pumps on, the valve closes
constexpr double kLags = 5;           // of a sensor's time constant: then it shows what is there
constexpr double kStill_s = 0.2;      // without a movement
constexpr std::size_t kDoubted = 64;  // steps that a movement may reach back
// An unmeasured workshop's temperature: 1.5 K an hour, 3 K in all; the share of a measured one that a
// thermometer beside the line misses. Common practice, no source.
constexpr double kDrift_k_s = 1.5 / 3600, kDrift_k = 3, kMissed_k_s = 0.2 / 3600, kMissed_k = 0.4;
constexpr double kAmbient_kpa = kAtmosphere_pa / 1000, kNought_k = 273.15;
constexpr double kSweptShare =
    0.4;  // of a line's volume, by its actuators (common practice, no source)
constexpr double kEmptied = 0.03;  // of the held pressure: too little left to measure a leak
constexpr double kTail = 0.3;      // of the pressure at first
constexpr double kFastFall = 0.3;  // of the pressure: no warmth does that, a short rest is enough
constexpr double kShortestFall_s = 0.4;
constexpr double kVented_s = 1;    // a valve that opened takes half of the pressure within
constexpr double kUnseen_kpa = 3;  // least held pressure where no motor was seen to pump it
// A gauge's zero that the rig does not state: beside a hand pump, and where it was seen at rest.
constexpr double kGauge_kpa = 1, kUsualZero_kpa = 0.2;
constexpr double kDriven = 0.005;  // of the pressure: a rise after the last stroke
constexpr double kLouder = 2;      // in variance
constexpr std::size_t kBends = 33;
constexpr double kSpacing = 0.3;  // by which a meter's spacing may stray from what was watched
constexpr std::int64_t kFirstLook = 8;
constexpr double kFrozenAfter = 50;  // readings
// The noise is learnt from a line at ambient, and from pieces of a hold that are nearly straight.
constexpr double kAmbientBand_kpa = 2, kPiece_s = 1, kPieceReadings = 24, kRelaxed_s = 5;
constexpr double kStraight = 0.03, kLearnt_s = 60;

// What a fit says about the leak, the instrument's share in its uncertainties.
struct Leak {
  Uncertain start_kpa, slope_kpa_s;
  bool seen = false;  // significantly different from zero
  // Loss is counted towards ambient, from either side.
  [[nodiscard]] double towards() const { return start_kpa.value > 0 ? -1 : 1; }
};

void add_decay(Event& event, const Leak& leak, const DecayFit& fit) {
  add_measure(event, "start_pressure", leak.start_kpa, "kPa");
  add_measure(event, "slope", leak.slope_kpa_s, "kPa/s");
  // Not a negative nought.
  const Uncertain rate{60 * leak.towards() * leak.slope_kpa_s.value + 0.0, 60 * leak.slope_kpa_s.u};
  add_measure(event, "decay_rate", rate, "kPa/min");
  if (fit.tau_s)
    add_measure(event, "time_constant", *fit.tau_s, "s");
  else if (leak.seen)
    add_missing(event, "time_constant", MissingCode::IMPLAUSIBLE,
                "a short hole's loss is not in proportion to the pressure");
  else
    add_missing(event, "time_constant", MissingCode::NOT_TOLD_FROM_ZERO,
                "the slope cannot be told from zero");
  if (!leak.seen)
    add_note(event, fmt::format("decay_rate below {:.2g} kPa/min (95 %)", 60 * fit.bound_kpa_s()));
}

void add_share(Event& event, const Leak& leak, const Uncertain& rise_kpa_s) {
  if (!(rise_kpa_s.value > 0)) {
    add_missing(event, "leak_share", MissingCode::NO_CHANNEL, "no run was measured before it");
    return;
  }
  const double share = std::abs(leak.slope_kpa_s.value) / rise_kpa_s.value;
  add_measure(event, "leak_share",
              {share, combine(leak.slope_kpa_s.u, share * rise_kpa_s.u) / rise_kpa_s.value}, "1");
}

// Of a line whose volume the rig gives.
void add_leak_rate(Event& event, const Leak& leak, const Rig& rig, double kelvin) {
  const double volume_m3 = rig.line_volume_ml * 1e-6;
  // Where the actuators stand is not known: anywhere between their ends (JCGM 100, 4.3.7).
  const double swept_ml = rig.swept_volume_ml.value_or(kSweptShare * rig.line_volume_ml);
  const double u_volume =
      combine(rig.line_volume_u_ml, swept_ml / std::sqrt(3.0)) / rig.line_volume_ml;
  const double q = volume_m3 * 1000 * leak.towards() * leak.slope_kpa_s.value;
  const double u_q = combine(volume_m3 * 1000 * leak.slope_kpa_s.u, u_volume * q);
  add_measure(event, "leak_rate", {q, u_q}, "Pa·m³/s");
  add_measure(event, "leak_rate_mbar_l_s", {pa_m3_s_to_mbar_l_s(q), pa_m3_s_to_mbar_l_s(u_q)},
              "mbar·l/s");
  add_measure(event, "leak_rate_sccm", {pa_m3_s_to_sccm(q), pa_m3_s_to_sccm(u_q)}, "cm³/min");
  if (leak.seen && q > 0) {
    const double hole_mm = leak_hole_mm(q, leak.start_kpa.value, kelvin);
    add_measure(event, "leak_hole", {hole_mm, 0.5 * hole_mm * u_q / q}, "mm");
  } else {
    add_missing(event, "leak_hole", MissingCode::NOT_TOLD_FROM_ZERO,
                "the leak cannot be told from zero");
  }
}

// The bins' value at an instant, by straight lines.
double at_instant(const std::vector<GrowingBins::Bin>& bins, double t_s) {
  std::size_t k = 1;
  while (k + 1 < bins.size() && bins[k].time_s < t_s) ++k;
  if (bins.size() < 2) return bins.front().value;
  const auto &a = bins[k - 1], &b = bins[k];
  const double part = std::clamp((t_s - a.time_s) / (b.time_s - a.time_s), 0.0, 1.0);
  return a.value + part * (b.value - a.value);
}
}  // namespace

// As long as a reading where those are further apart.
double LeakDecay::step_s() const { return std::max(kStep_s, line().period_s()); }

// Of one reading. A slow meter sees the line fall between two readings: what bends counts, not what
// changes.
double LeakDecay::sd_kpa() const {
  if (!line().slow() || bends_kpa_.empty()) return line().noise();
  std::vector<double> sorted(bends_kpa_.begin(), bends_kpa_.end());
  std::sort(sorted.begin(), sorted.end());
  return std::max(sorted[sorted.size() / 2] / (0.6745 * std::sqrt(6.0)), u_of_width(line().step()));
}

NoiseModel LeakDecay::noise() const {
  const double length_s = std::max(1.0, taken_until_s_);
  NoiseModel model = learner_ && learner_->enough() ? learner_->model(line().step(), length_s)
                                                    : assumed_noise(line().noise(), line().step(),
                                                                    line().period_s(), length_s);
  model.hidden = std::max(model.hidden, elementary::square(line().quantisation_error()));
  // Under pressure a sensor may be louder than at rest.
  const double reading = model.h0 / (2 * line().period_s()) + model.h1;
  const double louder = reading > 0 ? elementary::square(sd_kpa()) / reading : 1;
  if (louder > kLouder) {
    model.h0 *= louder;
    model.h1 *= louder;
  }
  return model;
}

void LeakDecay::begin(After after, double start_s) {
  moved_s_.reset();
  rest_.emplace();
  rest_->after = after;
  rest_->start_s = start_s;
  rest_->line = rest_->kelvin = GrowingBins(start_s);
  refresh_at_ = watched_;
}

// The more readings, the better the noise is known: looked at again after twice as many.
void LeakDecay::refresh_watch() {
  ++watched_;
  const double width_s = step_s();
  if (!watch_ || std::abs(watch_->step_s() - width_s) > kSpacing * width_s) {
    watch_.emplace(width_s, pumped());
    watched_ = refresh_at_ = 0;
  }
  if (watched_ < refresh_at_) return;
  watch_->learn(noise());
  refresh_at_ = std::max<std::int64_t>(kFirstLook, 2 * watched_);
}

void LeakDecay::on_event(const Event& lower) {
  if (lower.kind != Kind::STALL_CUTOFF && lower.kind != Kind::MOTOR_STOP) return;
  const Measure* rise = find_measure(lower, "rise_rate");
  rise_kpa_s_ = rise ? Uncertain{rise->value, rise->u} : Uncertain{};
}

void LeakDecay::on_edge(const Edge& lower) {
  switch (lower.what) {
    case Edge::What::kMotorOn:
      if (!begun_) taken_until_s_ = lower.time_s;
      close(lower.time_s - std::max(0.005, 2 * lower.u_s));
      running_ = true;
      moved_s_.reset();
      break;
    case Edge::What::kMotorOff: {
      const double lag_s = kLags * context_.entry(Role::LINE_PRESSURE).lag_s;
      running_ = false;
      begun_ = true;
      taken_until_s_ = lower.time_s + std::max(kSettle_s, lag_s) + 2 * lower.u_s;
      watch_.reset();
      begin(After::kStop, lower.time_s);
      rest_->contact = lower.contact;
      rest_->rise_kpa_s = rise_kpa_s_;
      break;
    }
    case Edge::What::kFeedOn:
      // A pump whose current nobody measures may start.
      if (pumped() && rest_) {
        close(lower.time_s - std::max(0.005, 2 * lower.u_s));
        moved_s_ = lower.time_s;
        stroke_ = true;
      }
      break;
    default:
      break;
  }
}

// The gauge pressure that the same amount of air would show at the rest's first temperature:
// p / T is constant in a tight line (ASTM E2930's correction).
double LeakDecay::at_first_temperature(double gauge_kpa, double t_s) {
  const Track& air = context_.track(Role::AIR_TEMPERATURE);
  if (air.empty()) return gauge_kpa;
  const double now_k = kNought_k + air.at_time(t_s);
  if (rest_->first_k == 0) rest_->first_k = now_k;
  rest_->kelvin.add(t_s, now_k, 1);
  return (gauge_kpa + kAmbient_kpa) * rest_->first_k / now_k - kAmbient_kpa;
}

void LeakDecay::take_until(double to_s) {
  if (running_ || line().empty()) return;
  if (!begun_) {
    begun_ = true;
    taken_until_s_ = line().time_s(line().begin());
    begin(After::kFirstSample, taken_until_s_);
  }
  const double width_s = step_s();
  std::int64_t k = line().first_at_or_after(taken_until_s_);
  const std::int64_t to = line().first_at_or_after(to_s);
  while (k < to) {
    const bool single = line().slow();
    const double from_s = single ? line().time_s(k) : taken_until_s_;
    const double next_s = from_s + width_s;
    if (!single && next_s > to_s) break;
    const std::int64_t next = single ? k + 1 : line().first_at_or_after(next_s);
    taken_until_s_ = single ? from_s + 1e-9 : next_s;
    if (next == k) {
      // A pause: the grid goes on from the next reading.
      taken_until_s_ = std::max(taken_until_s_, line().time_s(k));
      continue;
    }
    const Step step{from_s, line().mean_time_s(k, next),
                    sum(line().values(k, next)) / static_cast<double>(next - k),
                    static_cast<double>(next - k)};
    take(step, k, next);
    k = next;
  }
}

void LeakDecay::take(const Step& step, std::int64_t from, std::int64_t to) {
  refresh_watch();
  const auto movement = watch_->add(step.time_s, step.kpa);
  if (movement) {
    if (rest_) {
      while (!rest_->newest.empty() && rest_->newest.back().time_s >= movement->since_s)
        rest_->newest.pop_back();
      close(movement->since_s);
    }
    moved_s_ = step.time_s;
    stroke_ = movement->stroke;
  }
  learn_noise(step, from, to);
  if (line().slow()) {
    if (last_kpa_.size() == 2) {
      bends_kpa_.push_back(std::abs(step.kpa - 2 * last_kpa_.back() + last_kpa_.front()));
      last_kpa_.pop_front();
    }
    last_kpa_.push_back(step.kpa);
    if (bends_kpa_.size() > kBends) bends_kpa_.pop_front();
  }
  if (moved_s_) {
    if (step.time_s - *moved_s_ < std::max(kStill_s, 2 * step_s())) return;
    begin(stroke_ ? After::kStroke : After::kVent, step.time_s);
  }
  if (!rest_ || rest_->emptied) return;
  if (clips(from, to)) {
    rest_->clipped_s += step_s();
    rest_->newest.clear();
    rest_->line = rest_->kelvin = GrowingBins(rest_->start_s);
    return;
  }
  if (rest_->frozen) {  // as long as no reading differs from the first
    const Extremes extremes = extremes_of(line().values(from, to));
    if (rest_->readings == 0) rest_->first = extremes.least;
    rest_->frozen = extremes.least == extremes.most && extremes.least == rest_->first;
  }
  rest_->readings += step.n;
  rest_->newest.push_back(step);
  if (rest_->newest.size() <= kDoubted) return;
  keep(rest_->newest.front());
  rest_->newest.pop_front();
}

// Whether a reading stands at its sensor's range limit.
bool LeakDecay::clips(std::int64_t from, std::int64_t to) const {
  const Rig::Channel& entry = context_.entry(Role::LINE_PRESSURE);
  if (!entry.range_min && !entry.range_max) return false;
  const Extremes extremes = extremes_of(line().values(from, to));
  return context_.at_limit(Role::LINE_PRESSURE, static_cast<double>(extremes.most)) ||
         context_.at_limit(Role::LINE_PRESSURE, static_cast<double>(extremes.least));
}

// Nothing has disturbed this step.
void LeakDecay::keep(const Step& step) {
  Rest& rest = *rest_;
  if (rest.emptied) return;
  const double size_kpa = std::abs(step.kpa);
  if (rest.line.bins().empty()) rest.first_kpa = size_kpa;
  rest.top_kpa = std::max(rest.top_kpa, size_kpa);
  rest.last_kpa = size_kpa;
  rest.until_s = step.mean_s;
  if (rest.halved_s == 0 && size_kpa < 0.5 * rest.first_kpa) rest.halved_s = rest.held_s();
  rest.emptied =
      size_kpa < kEmptied * rest.first_kpa && size_kpa < 3 * sd_kpa() / std::sqrt(step.n) + 0.2;
  if (!rest.emptied)
    rest.line.add(step.mean_s, at_first_temperature(step.kpa, step.mean_s), step.n);
}

// From whole stretches at ambient, and from a hold's pieces that a leak bends too little to matter.
void LeakDecay::learn_noise(const Step& step, std::int64_t from, std::int64_t to) {
  if (!learner_) learner_.emplace(line().period_s(), NoiseLearner::Signal::kDrifts);
  const bool adjoins = piece_.to == from && piece_.to > piece_.from;
  const bool ambient = std::abs(step.kpa) < kAmbientBand_kpa;
  const bool quiet =
      !moved_s_ && rest_ && learner_->learnt_s() < kLearnt_s &&
      (ambient || rest_->after == After::kFirstSample || step.time_s - rest_->start_s > kRelaxed_s);
  if (!quiet || !adjoins) piece_ = {from, from, step.time_s, step.kpa};
  if (!quiet) return;
  piece_.to = to;
  const double readings = static_cast<double>(piece_.to - piece_.from);
  if (step.time_s - piece_.since_s < kPiece_s || readings < kPieceReadings) return;
  const bool straight = std::abs(step.kpa - piece_.first_kpa) <
                        std::max(kStraight * std::abs(step.kpa), 6 * sd_kpa());
  if (straight && piece_.from >= line().begin()) {
    learner_->add(line().values(piece_.from, piece_.to));
    learner_->end_stretch();
  }
  piece_ = {to, to, step.time_s, step.kpa};
}

void LeakDecay::on_tick(double now_s) { take_until(now_s - kLag_s); }

void LeakDecay::finish(double end_s) { close(end_s + 1e-9); }

// Whether the line was left alone with pressure in it.
bool LeakDecay::is_a_hold(const Rest& rest) const {
  if (rest.line.bins().size() < 5 || line().stuck()) return false;
  if (rest.first_kpa < (pumped() ? kUnseen_kpa : kLeastHeld_kpa) + 3 * sd_kpa()) return false;
  const bool fell = rest.emptied || rest.first_kpa - rest.last_kpa > kFastFall * rest.first_kpa;
  if (rest.held_s() < (fell ? kShortestFall_s : kShortest_s)) return false;
  if (rest.after == After::kVent && rest.halved_s > 0 && rest.halved_s < kVented_s) return false;
  if (!pumped() || rest.after != After::kStroke) return true;
  // Pumped by what nobody measured: it falls, if only by the warmth that leaves; what is held up or
  // driven on does not.
  const double length_s = rest.held_s() / 4;
  const double doubt_kpa =
      3 * std::sqrt(noise().variance_of_difference(length_s, length_s, 2 * length_s));
  const auto& bins = rest.line.bins();
  const double fall_kpa = std::abs(bins.front().value) - std::abs(bins.back().value);
  return rest.top_kpa - rest.first_kpa < kDriven * rest.first_kpa + doubt_kpa &&
         fall_kpa > doubt_kpa;
}

// At its range limit, or at one code while its noise is larger than that.
bool LeakDecay::clipped(const Rest& rest) const {
  const bool frozen =
      rest.readings >= kFrozenAfter && rest.frozen && line().noise() > 0.5 * line().step();
  return frozen || (rest.clipped_s > 0 && rest.line.bins().size() < 5);
}

std::optional<DecayFit> LeakDecay::fitted(const Rest& rest) const {
  std::vector<DecayPoint> decay;
  double mean_kpa = 0;
  const auto& bins = rest.line.bins();
  for (const auto& bin : bins) {
    // Down to little, laws differ more than they are known to hold.
    if (std::abs(bin.value) < kTail * rest.first_kpa) break;
    decay.push_back({bin.time_s - rest.start_s, bin.value, bin.n});
    mean_kpa += bin.value / static_cast<double>(bins.size());
  }
  DecaySettings settings;
  settings.period_s = line().period_s();
  if (learner_ && learner_->enough()) settings.noise = noise();
  const double u_zero_kpa = context_.entry(Role::LINE_PRESSURE).u_abs;
  settings.u_zero_kpa = u_zero_kpa > 0 ? u_zero_kpa : pumped() ? kGauge_kpa : kUsualZero_kpa;
  // p ~ T in a closed line: an ambient that drifts looks like a leak.
  const double per_k = (kAmbient_kpa + mean_kpa) / rest.kelvin_at_first();
  settings.drift_kpa_s = per_k * (rest.first_k > 0 ? kMissed_k_s : kDrift_k_s);
  settings.drift_kpa = per_k * (rest.first_k > 0 ? kMissed_k : kDrift_k);
  // A coarse converter hides up to a step, for as long as it takes to cross one.
  settings.hidden_kpa = std::sqrt(noise().hidden);
  const double crossed =
      line().step() > 0 ? std::abs(bins.back().value - bins[bins.size() / 2].value) / line().step()
                        : 0;
  settings.hidden_s = rest.held_s() / (1 + 2 * crossed);
  std::string why;
  auto fit = fit_decay(decay, settings, why);
  if (fit && decay.size() == bins.size()) fit->window_end_s = rest.held_s();
  return fit;
}

Event LeakDecay::event_of(const Rest& rest, const DecayFit& fit) const {
  const Rig::Channel& entry = context_.entry(Role::LINE_PRESSURE);
  const double u_time_s = u_of_width(line().period_s());
  Leak leak{.start_kpa = fit.pressure_kpa, .slope_kpa_s = fit.slope_kpa_s, .seen = fit.leaks()};
  if (rest.first_k > 0) {  // back from the rest's first temperature to the gauge
    const double now_k = at_instant(rest.kelvin.bins(), rest.start_s + fit.window_start_s);
    leak.start_kpa.value =
        (leak.start_kpa.value + kAmbient_kpa) * now_k / rest.first_k - kAmbient_kpa;
  }
  // A slow sensor shows what was there its time constant ago, an averaging meter what was there half
  // of its average ago; a slow meter may average over as long as its reading takes.
  const double unstated_s = line().slow() && entry.average_s == 0 ? line().period_s() : 0;
  leak.start_kpa.value += (entry.lag_s + entry.average_s / 2) * fit.moving_kpa_s;
  leak.start_kpa.u = combine(leak.start_kpa.u, entry.lag_u_s * fit.moving_kpa_s,
                             u_of_width(unstated_s) * fit.moving_kpa_s,
                             context_.u_instrument(Role::LINE_PRESSURE, leak.start_kpa.value));
  leak.slope_kpa_s.u = combine(leak.slope_kpa_s.u, entry.u_rel * leak.slope_kpa_s.value);

  Event event;
  event.kind = Kind::LEAK_DECAY;
  event.time_s = rest.start_s + fit.window_start_s;
  event.time_u_s = u_time_s;
  event.contact = rest.contact;
  event.direction = leak.start_kpa.value > 0 ? Direction::PRESSURE : Direction::VACUUM;
  add_measure(event, "duration", {fit.window_end_s - fit.window_start_s, u_time_s}, "s");
  add_decay(event, leak, fit);
  add_share(event, leak, rest.rise_kpa_s);
  if (context_.rig.line_volume_ml > 0)
    add_leak_rate(event, leak, context_.rig, rest.kelvin_at_first());
  else
    add_missing(event, "leak_rate", MissingCode::NO_VOLUME, "the rig gives no line_volume_ml");
  return event;
}

Event LeakDecay::not_measurable(const Rest& rest) const {
  Event event;
  event.kind = Kind::LEAK_DECAY;
  event.time_s = rest.start_s;
  event.time_u_s = u_of_width(line().period_s());
  event.contact = rest.contact;
  for (const char* const measure : {"start_pressure", "slope", "decay_rate"})
    add_missing(event, measure, MissingCode::OUT_OF_RANGE,
                "the pressure stood at its sensor's range limit, or its reading froze");
  return event;
}

void LeakDecay::close(double end_s) {
  if (!rest_) return;
  take_until(end_s);
  if (!rest_) return;  // something moved the line before
  for (const Step& step : rest_->newest) keep(step);
  const Rest rest = std::move(*rest_);
  rest_.reset();
  if (clipped(rest)) {
    if (rest.after == After::kStop && end_s - rest.start_s > kShortest_s)
      emit(not_measurable(rest));
    return;
  }
  if (!is_a_hold(rest)) return;
  if (const auto fit = fitted(rest)) emit(event_of(rest, *fit));
}

}  // namespace airlatch
