// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/capture_pictures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "plugin/report/measure_words.hpp"
#include "plugin/session/kinds.hpp"

namespace airlatch {
namespace {

constexpr double kLead_s = 0.2;         // drawn before a start
constexpr double kTail_s = 0.5;         // and after a stop
constexpr double kSmallPart = 0.4;      // of a capture: what is longer is seen well enough
constexpr std::size_t kMostNearer = 4;  // pictures of a capture
constexpr int kTicks = 6, kUpTicks = 4;

struct Group {
  const char* label;
  std::vector<Role> roles;
  double share;
};
const std::vector<Group>& groups() {
  static const std::vector<Group> all = {
      {"voltage, V",
       {Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE, Role::RETURN_VOLTAGE,
        Role::FUSE_VOLTAGE, Role::COMMAND_LEVEL},
       0.8},
      {"current, A", {Role::MOTOR_CURRENT}, 1},
      {"pressure, kPa", {Role::LINE_PRESSURE, Role::BRANCH_PRESSURE}, 1},
      {"air, °C", {Role::AIR_TEMPERATURE}, 0.6}};
  return all;
}
constexpr Ink kInks[] = {Ink::kFirst, Ink::kSecond, Ink::kThird};

struct Window {
  double from_s = 0, to_s = 0, zero_s = 0;
};

std::vector<Envelope::Bin> bins_of(const CapturePlot& plot, Role role, const Window& window) {
  for (const PlottedChannel& channel : plot.channels)
    if (channel.role == role)
      return stretch(channel.envelope.bins(), window.from_s, window.to_s, window.zero_s);
  return {};
}

// The leak alone, from the window's start.
Curve fitted_leak(const Event& event, const Window& window) {
  Curve curve{.name = "leak, as fitted", .ink = Ink::kFit};
  const Measure *p = find_measure(event, "start_pressure"), *s = find_measure(event, "slope"),
                *length = find_measure(event, "duration");
  if (!p || !s || !length || p->value == 0) return curve;
  for (int k = 0; k <= 60; ++k) {
    const double t_s = length->value * k / 60;
    if (event.time_s + t_s < window.from_s || event.time_s + t_s > window.to_s) continue;
    const double v = p->value * std::exp(s->value / p->value * t_s);
    curve.bins.push_back({event.time_s + t_s - window.zero_s, v, v});
  }
  return curve;
}

void add_leaks(PicturePanel& panel, const CapturePlot& plot, const Window& window) {
  Curve all{.name = "leak, as fitted", .ink = Ink::kFit};
  for (const Event& event : plot.events) {
    if (event.kind != Kind::LEAK_DECAY) continue;
    const Curve one = fitted_leak(event, window);
    if (one.bins.empty()) continue;
    // No line from one hold to the next.
    if (!all.bins.empty())
      all.bins.push_back({one.bins.front().time_s, std::nan(""), std::nan("")});
    all.bins.insert(all.bins.end(), one.bins.begin(), one.bins.end());
  }
  if (!all.bins.empty()) panel.curves.push_back(std::move(all));
}

Picture drawn(const CapturePlot& plot, const Window& window) {
  Picture out;
  out.x = scale_of(window.from_s - window.zero_s, window.to_s - window.zero_s, kTicks);
  out.x_label = "time, s";
  for (const Group& group : groups()) {
    PicturePanel panel{.label = group.label, .share = group.share};
    for (const PlottedChannel& channel : plot.channels) {
      if (std::find(group.roles.begin(), group.roles.end(), channel.role) == group.roles.end())
        continue;
      Curve curve{.name = channel.name, .ink = kInks[panel.curves.size() % 3]};
      curve.bins = stretch(channel.envelope.bins(), window.from_s, window.to_s, window.zero_s);
      if (!curve.bins.empty()) panel.curves.push_back(std::move(curve));
    }
    if (panel.curves.empty()) continue;
    panel.y = scale_of(panel.curves, kUpTicks);
    if (group.roles[0] == Role::LINE_PRESSURE) add_leaks(panel, plot, window);
    out.panels.push_back(std::move(panel));
  }
  return out;
}

void add_marks(Picture& picture, const CapturePlot& plot) {
  std::vector<Numbered> all;
  for (const Event& event : listed_events(plot))
    all.push_back({event.time_s, static_cast<int>(all.size()) + 1});
  picture.marks = marks_of(all, picture.x);
}

std::string ranges_of(const Picture& picture) {
  std::string out;
  for (const PicturePanel& panel : picture.panels)
    for (const Curve& curve : panel.curves) {
      if (curve.ink == Ink::kFit) continue;
      double low = 1e300, high = -1e300;
      for (const Envelope::Bin& bin : curve.bins) {
        low = std::min(low, bin.least);
        high = std::max(high, bin.most);
      }
      out += fmt::format("{}{} ({}) between {:.3g} and {:.3g}", out.empty() ? "" : "; ", curve.name,
                         panel.label, low, high);
    }
  return out;
}

struct RunStretch {
  double start_s = 0, stop_s = 0, end_s = 0;  // its end: the next run's start, or the capture's end
};

std::optional<RunStretch> first_run(const CapturePlot& plot, Direction direction) {
  std::optional<RunStretch> found;
  for (const Event& event : plot.events) {
    if (found && event.kind == Kind::MOTOR_START) {
      found->end_s = event.time_s - 2 * kLead_s;
      return found;
    }
    const bool stops = event.kind == Kind::STALL_CUTOFF || event.kind == Kind::MOTOR_STOP;
    if (found && stops && found->stop_s == 0) found->stop_s = event.time_s;
    if (!found && event.kind == Kind::MOTOR_START && event.direction == direction)
      found = {event.time_s, 0, plot.duration_s};
  }
  return found;
}

double run_length(const RunStretch& run) {
  return (run.stop_s > 0 ? run.stop_s : run.end_s) - run.start_s;
}

Picture laid_over(const CapturePlot& before, const RunStretch& was, const CapturePlot& after,
                  const RunStretch& is, double length_s) {
  Picture out;
  out.x = scale_of(-kLead_s, length_s, kTicks);
  out.x_label = "time from the motor's start, s";
  for (const auto& [role, label] : {std::pair(Role::MOTOR_CURRENT, "current, A"),
                                    std::pair(Role::LINE_PRESSURE, "pressure, kPa")}) {
    PicturePanel panel{.label = label};
    for (const auto& [plot, run, name, ink] : {std::tuple(&before, &was, "before", Ink::kBefore),
                                               std::tuple(&after, &is, "after", Ink::kAfter)}) {
      const double to_s = std::min(run->end_s, run->start_s + length_s);
      Curve curve{.name = name, .ink = ink};
      curve.bins = bins_of(*plot, role, {run->start_s - kLead_s, to_s, run->start_s});
      if (!curve.bins.empty()) panel.curves.push_back(std::move(curve));
    }
    if (panel.curves.empty()) continue;
    panel.y = scale_of(panel.curves, kUpTicks);
    out.panels.push_back(std::move(panel));
  }
  out.alt = "Before and after, from the motor's start: " + ranges_of(out) + ".";
  return out;
}

double last_start(const CapturePlot& plot, double before_s) {
  double at_s = before_s;
  for (const Event& event : plot.events)
    if (event.kind == Kind::MOTOR_START && event.time_s < before_s) at_s = event.time_s;
  return at_s;
}

// What was lost in a hold, as it was measured: from its start to its end.
Drop drop_of(const HeldState& state, double zero_s, const Language& language) {
  const Measure *p = find_measure(state.hold, "start_pressure"),
                *s = find_measure(state.hold, "slope"),
                *length = find_measure(state.hold, "duration");
  Drop drop{.ink = state.ink};
  if (!p || !s || !length || p->value == 0) return drop;
  drop.x_from = state.hold.time_s - zero_s;
  drop.x = drop.x_from + length->value;
  drop.from = p->value;
  drop.to = p->value * std::exp(s->value / p->value * length->value);
  const double lost = std::abs(drop.from) - std::abs(drop.to), u = s->u * length->value;
  const std::string seconds =
      customer_figure({.name = "duration", .value = length->value, .u = 0.5, .unit = "s"}, false,
                      language)
          .text;
  const std::string kpa =
      customer_figure({.name = "lost", .value = lost, .u = u, .unit = "kPa"}, true, language).text;
  drop.text = language.say("{state}: {pressure} lost in {time}",
                           {{"state", state.name}, {"pressure", kpa}, {"time", seconds}});
  return drop;
}

}  // namespace

std::vector<Event> listed_events(const CapturePlot& plot) {
  std::vector<Event> out = plot.events;
  if (out.size() > kMostListed) out.resize(kMostListed);
  return out;
}

Picture whole_capture(const CapturePlot& plot) {
  Picture out = drawn(plot, {0, std::max(plot.duration_s, 1e-3), 0});
  add_marks(out, plot);
  out.height = 30 + 40 * static_cast<double>(out.panels.size());
  out.alt = fmt::format("{:.4g} seconds: {}. The numbers are those of the events listed below.",
                        plot.duration_s, ranges_of(out));
  return out;
}

std::vector<Nearer> runs_nearer(const CapturePlot& plot) {
  std::vector<Nearer> out;
  for (const Event& event : plot.events) {
    if (event.kind != Kind::MOTOR_START || out.size() == kMostNearer) continue;
    double stop_s = event.time_s + 2;
    for (const Event& stop : plot.events)
      if (stop.time_s > event.time_s &&
          (stop.kind == Kind::STALL_CUTOFF || stop.kind == Kind::MOTOR_STOP)) {
        stop_s = stop.time_s;
        break;
      }
    const Window window{std::max(0.0, event.time_s - kLead_s),
                        std::min(plot.duration_s, stop_s + kTail_s), 0};
    if (window.to_s - window.from_s > kSmallPart * plot.duration_s) continue;
    Picture nearer = drawn(plot, window);
    add_marks(nearer, plot);
    nearer.height = 20 + 30 * static_cast<double>(nearer.panels.size());
    nearer.alt = fmt::format("From {:.4g} to {:.4g} s, nearer: {}.", window.from_s, window.to_s,
                             ranges_of(nearer));
    if (!nearer.empty()) out.push_back({window.from_s, window.to_s, std::move(nearer)});
  }
  return out;
}

std::vector<Overlay> overlays(const CapturePlot& before, const CapturePlot& after) {
  std::vector<Overlay> out;
  for (const Direction direction : {Direction::PRESSURE, Direction::VACUUM, Direction::UNKNOWN}) {
    const auto was = first_run(before, direction), is = first_run(after, direction);
    if (!was || !is) continue;
    Overlay one{.direction = direction};
    const double whole_s = std::max(was->end_s - was->start_s, is->end_s - is->start_s);
    const double near_s = std::max(run_length(*was), run_length(*is)) + kTail_s;
    one.whole = laid_over(before, *was, after, *is, std::max(whole_s, 0.5));
    if (near_s < kSmallPart * whole_s) one.nearer = laid_over(before, *was, after, *is, near_s);
    if (!one.whole.empty()) out.push_back(std::move(one));
  }
  return out;
}

std::optional<double> highest(const Picture& picture, const std::string& panel, Ink ink) {
  std::optional<double> out;
  for (const PicturePanel& one : picture.panels)
    for (const Curve& curve : one.curves)
      if (one.label == panel && curve.ink == ink)
        for (const auto& [x, y] : line_of(curve)) out = std::max(out.value_or(y), y);
  return out;
}

Picture pressure_held(const std::vector<HeldState>& states, const Language& language) {
  Picture out;
  PicturePanel panel{.label = language.say("pressure, kPa")};
  double length_s = 0;
  std::string told;
  for (const HeldState& state : states) {
    const Measure* const length = find_measure(state.hold, "duration");
    const double zero_s = last_start(*state.plot, state.hold.time_s);
    const double to_s = state.hold.time_s + (length ? length->value : 0);
    Curve curve{.name = state.name, .ink = state.ink};
    curve.bins = bins_of(*state.plot, Role::LINE_PRESSURE, {zero_s - kLead_s, to_s, zero_s});
    if (curve.bins.empty()) continue;
    length_s = std::max(length_s, to_s - zero_s);
    panel.curves.push_back(std::move(curve));
    Drop drop = drop_of(state, zero_s, language);
    if (drop.text.empty()) continue;
    told += (told.empty() ? "" : "; ") + drop.text;
    // Between the curve and ambient nothing is drawn: one below the other.
    drop.text_at = drop.from * (panel.drops.empty() ? 0.5 : 0.25);
    panel.drops.push_back(std::move(drop));
  }
  if (panel.curves.empty()) return out;
  out.x = scale_of(-kLead_s, length_s * 1.02, kTicks, language.decimal());
  out.x_label = language.say("seconds from the pump's start");
  panel.y = scale_of(panel.curves, kTicks, language.decimal());
  out.panels.push_back(std::move(panel));
  out.height = 165;
  out.alt = language.say("Pressure in the air line while the pump runs and after it: {losses}.",
                         {{"losses", told.empty() ? language.say("no loss was measured") : told}});
  return out;
}

}  // namespace airlatch
