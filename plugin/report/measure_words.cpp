// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/measure_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace airlatch {
namespace {

constexpr std::array kRows = {
    MeasureRow{"level", translatable("Voltage at the pump"),
               "Mean voltage of the contact from 20 to 50 ms after its edge."},
    MeasureRow{"supply_level", translatable("Voltage of the source"),
               "Mean voltage of the source from 20 to 50 ms after the feed's edge."},
    MeasureRow{"inrush_peak", translatable("Largest current at the start"),
               "Largest current after a start; in the pictures the curve's highest point."},
    MeasureRow{"feed_to_start", translatable("Time from the feed to the start"),
               "From the feed's 50 % level to the current's 10 % level (IEEE Std 181)."},
    MeasureRow{"supply_sag", translatable("Drop of the source at the start"),
               "What the source's voltage falls by at the inrush."},
    MeasureRow{"run_time", translatable("Time until the pump stops by itself"),
               "From the motor's start to its stop, both where the current crosses its reference "
               "level (IEEE Std 181)."},
    MeasureRow{"run_current", translatable("Current while the pump runs"),
               "Mean current after the inrush."},
    MeasureRow{"end_current", translatable("Current before the pump stops"),
               "Mean current of the last 50 ms before the stop."},
    MeasureRow{"end_pressure", translatable("Pressure that the pump reaches"),
               "Gauge pressure at the stop; below zero: vacuum."},
    MeasureRow{"rise_rate", translatable("How fast the pressure rises"),
               "Change of pressure a second between 10 % and 50 % of the run's change."},
    MeasureRow{"energy", translatable("Energy of a run"), "Voltage times current, over the run."},
    MeasureRow{"feed_path_resistance", translatable("Resistance of the wiring to the pump"),
               "Slope of the voltage lost between source and contact against the current."},
    MeasureRow{
        "return_path_resistance", translatable("Resistance of the ground connection"),
        "Slope of the voltage between the pump's ground and the source against the current."},
    MeasureRow{"supply_resistance", translatable("Resistance of the source"),
               "Slope of the source's voltage against the current."},
    MeasureRow{"motor_resistance", translatable("Resistance of the motor"),
               "Of the winding with its brushes, from the current's course at the start."},
    MeasureRow{"shaft_speed", translatable("Speed of the motor"),
               "From the ripple of the commutator, by the segments the rig gives."},
    MeasureRow{"branch_share", translatable("Pressure that arrives in the branch"),
               "Pressure at the branch's far end over the line's, at the run's end."},
    MeasureRow{"rest_time", translatable("Rest before the run"),
               "From the stop before to the start."},
    MeasureRow{"duration", translatable("Duration"), "From the first to the last sample of it."},
    MeasureRow{"start_pressure", translatable("Pressure when the line is left alone"),
               "Gauge pressure at the window's start, warmth included."},
    MeasureRow{"slope", translatable("Loss of pressure a second"),
               "dp/dt at the window's start by the leak alone, signed."},
    MeasureRow{"decay_rate", translatable("Pressure lost in a minute"),
               "The leak alone, towards ambient, at the window's start."},
    MeasureRow{"time_constant", translatable("Time in which two thirds of the pressure are lost"),
               "Of the exponential that the leak alone follows."},
    MeasureRow{"leak_rate", translatable("Flow of air through leaks"),
               "Volume times dp/dt (pressure-change method of EN 1779)."},
    MeasureRow{"leak_hole", translatable("Size of a hole that leaks as much"),
               "Diameter of the ideal round hole of the same flow."},
    MeasureRow{"leak_rate_mbar_l_s", translatable("Flow of air through leaks"),
               "leak_rate in another unit."},
    MeasureRow{"leak_rate_sccm", translatable("Flow of air through leaks"),
               "leak_rate as air at 0 °C and 101.325 kPa a minute."},
    MeasureRow{"segment_irregularity", translatable("Irregularity of the motor's segments"),
               "Spread of the ripple from one commutator segment to the next, relative."},
    MeasureRow{"motor_inductance", translatable("Inductance of the motor"),
               "Of the winding, from the current's course at the start."},
    MeasureRow{"mechanical_time_constant", translatable("Time in which the motor gains speed"),
               "Of the motor with its load, from the current's course at the start."},
    MeasureRow{"motor_constant", translatable("Voltage the motor makes by turning"),
               "Back-EMF a radian a second, from the current's course at the start."},
    MeasureRow{"leak_share", translatable("Air lost through leaks, of what the pump delivers"),
               "The slope over the rise rate of the run before: free of the line's volume."},
    MeasureRow{"waited", translatable("Time without an answer"),
               "From the feed's edge for as long as no current flowed."},
    MeasureRow{"pressure", translatable("Pressure while the pump runs on"),
               "Gauge pressure when the run had lasted the plan's limit."},
    MeasureRow{"stall_current", translatable("Current of the motor that does not turn"),
               "Mean current of the stretch without rotation."},
    MeasureRow{"hold_time", translatable("Rest until the pump starts again"),
               "From the cut-off to the start, the feed never removed."},
};

const MeasureRow* row_of_measure(std::string_view measure) {
  const auto* const at = std::find_if(kRows.begin(), kRows.end(),
                                      [&](const MeasureRow& row) { return measure == row.name; });
  return at == kRows.end() ? nullptr : &*at;
}

constexpr const char* kNoBreak = "\u00a0";
constexpr int kDigits = 3;
// Of a flow of 1 Pa m3/s, as air of a standard atmosphere.
constexpr double kAir_cm3 = 1e6 / 101'325;

// Decimals for the digits that are sure, given by twice the uncertainty, and for three in all.
int decimals_for(double value, double u) {
  const double size = std::abs(value);
  int decimals = size > 0 ? kDigits - 1 - static_cast<int>(std::floor(std::log10(size))) : 2;
  if (u > 0) decimals = std::min(decimals, -static_cast<int>(std::floor(std::log10(2 * u))));
  return std::clamp(decimals, -9, 6);
}

std::string unit_shown(std::string_view measure, const std::string& unit) {
  if (measure == "leak_share" || measure == "branch_share") return "%";
  if (measure == "leak_rate") return "cm³/s";
  return unit == "1" ? "" : unit;
}

std::string with_unit(const std::string& number, const std::string& unit) {
  return unit.empty() ? number : number + kNoBreak + unit;
}

}  // namespace

std::span<const MeasureRow> measure_rows() { return kRows; }

std::string measure_name(std::string_view measure) {
  std::string name(measure);
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

std::string customer_name(std::string_view measure, const Language& language) {
  const MeasureRow* const row = row_of_measure(measure);
  return row ? language.say(row->customer) : measure_name(measure);
}

double customer_factor(const Measure& measure) {
  if (measure.name == "leak_share" || measure.name == "branch_share") return 100;
  if (measure.name == "leak_rate") return kAir_cm3;
  return measure.name == "end_pressure" && measure.value < 0 ? -1 : 1;
}

CustomerFigure customer_figure(const Measure& measure, bool bound, const Language& language) {
  const double factor = customer_factor(measure);
  CustomerFigure out{.value = factor * measure.value, .u = std::abs(factor) * measure.u};
  const std::string unit = unit_shown(measure.name, measure.unit);
  if (bound && std::abs(out.value) <= 2 * out.u && out.u > 0) {
    // One digit, upwards: it is less than that for sure.
    const double most = std::abs(out.value) + 2 * out.u;
    const int decimals = -static_cast<int>(std::floor(std::log10(most)));
    const double step = std::pow(10, -decimals);
    out.text = language.say(
        "less than {value}",
        {{"value", with_unit(language.number(std::ceil(most / step) * step, decimals), unit)}});
    return out;
  }
  out.text = with_unit(language.number(out.value, decimals_for(out.value, out.u)), unit);
  return out;
}

std::string customer_number(double value, std::string_view measure, const std::string& unit,
                            const Language& language) {
  std::string number =
      measure == "leak_rate" ? fmt::format("{:.2f}", value) : fmt::format("{:.6g}", value);
  std::replace(number.begin(), number.end(), '.', language.decimal());
  return with_unit(number, unit_shown(measure, unit));
}

}  // namespace airlatch
