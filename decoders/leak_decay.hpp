// SPDX-License-Identifier: GPL-3.0-or-later
// leak_decay.hpp: how fast the line loses what the pump put in (LEAK_DECAY).
//
// In    kMotorOn / kMotorDips / kMotorOff edges, feed edges; line pressure, air temperature.
// Out   LEAK_DECAY at the start of the decay window: `duration` s, `start_pressure` kPa, `slope`
//       kPa/s, `decay_rate` kPa/min, `time_constant` s, with a known volume `leak_rate` Pa·m³/s
//       (and the same in mbar·l/s and in standard cm³/min, 0 degC and 101 325 Pa) and `leak_hole`
//       mm. Reported when the window has closed: at the next start, or the capture's end.
// How   method/decay_fit: exponential decay towards ambient or an ideal hole, with the thermal
//       relaxation of freshly pumped air separated, averaged by AICc, correlated noise included.
//       Where the air's temperature is measured, pressures are first brought to that of the rest's
//       beginning (p ~ T; ASTM E2930); else the uncertainty allows for a drifting ambient. Leak
//       rate Q = V dp/dt (EN 1779, EN 13184 pressure-change method); hole by the ideal orifice (ISO
//       6358). A slope that cannot be distinguished from zero is given with its bound in the note.
// Cost  a Trace (4096 points) and one fit a rest.
#pragma once
#include "decoders/decoder.hpp"
#include "decoders/stream/trace.hpp"

namespace airlatch {

struct DecayFit;

class LeakDecay final : public Decoder {
 public:
  static constexpr double kShortest_s = 3.0;   // of a rest worth a fit (common practice, no source)
  static constexpr double kLeastHeld_kpa = 2;  // less is not held pressure
  static constexpr double kLag_s = 1.0;        // a start is reported within this
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;
  void finish(double end_s) override;

 private:
  struct Rest {
    double stop_s = 0;
    Contact contact = Contact::NONE;
    double sign = 1;
    Trace trace;
    double taken_until_s = 0;
    double first_k = 0;    // the air's temperature at the rest's beginning; 0: not measured
    double held_kpa = 0;   // just after the stop
    bool emptied = false;  // nearly at ambient: what follows says nothing about the leak
    [[nodiscard]] double length_s() const { return trace.points().back().time_s - stop_s; }
    [[nodiscard]] double kelvin() const { return first_k > 0 ? first_k : 293.15; }
  };
  void take_until(double to_s);
  double at_first_temperature(double gauge_kpa, double t_s);
  void close(double end_s);
  [[nodiscard]] bool can_be_fitted(const Rest& rest) const;
  [[nodiscard]] double drift_kpa_s(const Rest& rest) const;
  [[nodiscard]] Event event_of(const Rest& rest, const DecayFit& fit) const;
  std::optional<Rest> rest_;
};

}  // namespace airlatch
