// SPDX-License-Identifier: GPL-3.0-or-later
// rest_truth.hpp: what the truth says about the line's rests.
//
// In    the truth of the runs, by time; the movements; where the capture ends.
// Out   a LineDecay for each rest from a stop to the next start (or the end) that is long enough and
//       begins with pressure in the line, and its LEAK_DECAY event.
// How   in the model a viscous leak of stiff hoses is exactly exponential,
//       p(t) = p_stop exp(-(t - stop) / tau); other laws are integrated.
//       The window opens four relaxation times of the warm air after the stop, or halfway.
#pragma once
#include <array>
#include <vector>

#include "decoders/event.hpp"
#include "plugin/rehearse/course.hpp"
#include "plugin/rehearse/pump_model.hpp"

namespace airlatch {

// A rest of the line: what the leak alone does in it (pressure, slope), and what the gauge sees.
struct LineDecay {
  double stop_s = 0, window_s = 0, end_s = 0;
  double tau_s = 0;                     // viscous; 0: tight
  double isothermal_kpa = 0;            // at the stop
  std::array<double, 2> excess_k = {};  // at the stop: the air's two warmths
  double rise_kpa_s = 0;                // of the run before; 0: not known
  PumpParameters parameters = {};       // of the system
  [[nodiscard]] double pressure_kpa(double t_s) const;
  [[nodiscard]] double slope_kpa_s(double t_s) const;
  [[nodiscard]] double gauge_kpa(double t_s) const;  // warmth included

 private:
  [[nodiscard]] bool exponential() const;
  [[nodiscard]] PumpModel model_at(double t_s) const;
};

std::vector<LineDecay> decays_of(const std::vector<Event>& truth,
                                 const std::vector<Movement>& movements, const PumpParameters& p,
                                 double end_s);
std::vector<Event> truth_of_rests(const std::vector<LineDecay>& decays, const PumpParameters& p,
                                  bool command);

}  // namespace airlatch
