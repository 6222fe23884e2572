// SPDX-License-Identifier: GPL-3.0-or-later
// leak_decay.hpp: how fast a line that is left alone loses its pressure (LEAK_DECAY).
//
// In    motor and feed edges, the runs' `rise_rate`; line pressure, air temperature.
// Out   LEAK_DECAY at the start of the decay window: `duration` s, `start_pressure` kPa (as a gauge
//       shows it, warmth included); of the leak alone `slope` kPa/s, `decay_rate` kPa/min,
//       `time_constant` s, `leak_share` of the run's rise rate, with a known volume `leak_rate`
//       Pa·m³/s (and in mbar·l/s and standard cm³/min, 0 degC and 101 325 Pa) and `leak_hole` mm.
//       Reported when the window has closed: before the next start, at what moves the line otherwise,
//       or at the capture's end. A pressure at its sensor's range limit is not measurable.
// How   a rest begins at a stop, at the capture's first sample, and after anything that moved the line
//       (line_watch): without a motor channel that is how a hand pump's strokes are told. What is left
//       alone is fitted by method/decay_fit with the channel's noise (method/noise_model), learnt where
//       the line is at ambient or falls slowly. A valve that opened, and what a pump that nobody
//       measures still drives or holds, is no leak. Where the air's temperature is measured, pressures
//       are first brought to that of the rest's beginning (p ~ T; ASTM E2930); else the uncertainty
//       allows for a drifting ambient. Leak rate Q = V dp/dt (EN 1779, EN 13184 pressure-change
//       method); hole by the ideal orifice (ISO 6358). A slope that cannot be told from zero is given
//       with its bound in the note.
// Cost  some hundred bins and one fit a rest.
#pragma once
#include <deque>
#include <optional>

#include "decoders/decoder.hpp"
#include "decoders/line_watch.hpp"
#include "decoders/method/noise_model.hpp"
#include "decoders/stream/growing_bins.hpp"

namespace airlatch {

struct DecayFit;

class LeakDecay final : public Decoder {
 public:
  static constexpr double kShortest_s = 3.0;   // of a rest worth a fit (common practice, no source)
  static constexpr double kLeastHeld_kpa = 2;  // less is not held pressure
  static constexpr double kLag_s = 1.0;        // a start is reported within this
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_event(const Event& lower) override;
  void on_tick(double now_s) override;
  void finish(double end_s) override;

 private:
  // What the rest follows.
  enum class After { kStop, kFirstSample, kStroke, kVent };
  struct Step {
    double time_s = 0, mean_s = 0, kpa = 0, n = 0;  // its start, its readings' mean instant
  };
  struct Rest {
    After after = After::kStop;
    double start_s = 0, until_s = 0;  // nothing moves the line
    Contact contact = Contact::NONE;
    Uncertain rise_kpa_s;  // of the run before; 0: none was measured
    GrowingBins line, kelvin;
    std::deque<Step> newest;                          // not yet known to be undisturbed
    double first_kpa = 0, top_kpa = 0, last_kpa = 0;  // magnitudes
    float first = 0;                                  // reading
    bool frozen = true;                               // none has differed from it
    double halved_s = 0;  // after the start, to half of the pressure; 0: not yet
    double readings = 0, clipped_s = 0;
    double first_k = 0;    // the air's temperature at the rest's beginning; 0: not measured
    bool emptied = false;  // nearly at ambient: what follows says nothing about the leak
    [[nodiscard]] double held_s() const { return until_s - start_s; }
    [[nodiscard]] double kelvin_at_first() const { return first_k > 0 ? first_k : 293.15; }
  };
  [[nodiscard]] const Track& line() const { return context_.track(Role::LINE_PRESSURE); }
  [[nodiscard]] bool pumped() const { return !context_.has(Role::MOTOR_CURRENT); }
  [[nodiscard]] double step_s() const;
  [[nodiscard]] NoiseModel noise() const;
  [[nodiscard]] double sd_kpa() const;
  void begin(After after, double start_s);
  void refresh_watch();
  void take_until(double to_s);
  void take(const Step& step, std::int64_t from, std::int64_t to);
  [[nodiscard]] bool clips(std::int64_t from, std::int64_t to) const;
  void keep(const Step& step);
  void learn_noise(const Step& step, std::int64_t from, std::int64_t to);
  double at_first_temperature(double gauge_kpa, double t_s);
  void close(double end_s);
  [[nodiscard]] bool is_a_hold(const Rest& rest) const;
  [[nodiscard]] bool clipped(const Rest& rest) const;
  [[nodiscard]] std::optional<DecayFit> fitted(const Rest& rest) const;
  [[nodiscard]] Event event_of(const Rest& rest, const DecayFit& fit) const;
  [[nodiscard]] Event not_measurable(const Rest& rest) const;

  std::optional<Rest> rest_;
  std::optional<LineWatch> watch_;
  std::int64_t watched_ = 0, refresh_at_ = 0;  // steps
  bool running_ = false, begun_ = false;
  double taken_until_s_ = 0;
  std::optional<double> moved_s_;  // the line was moved then; when it is still, a rest begins
  bool stroke_ = false;
  Uncertain rise_kpa_s_;  // of the last run
  std::optional<NoiseLearner> learner_;
  struct Piece {
    std::int64_t from = 0, to = 0;
    double since_s = 0, first_kpa = 0;
  };
  Piece piece_ = {};
  std::deque<double> last_kpa_,
      bends_kpa_;  // slow meters: readings, magnitudes of second differences
};

}  // namespace airlatch
