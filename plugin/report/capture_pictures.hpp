// SPDX-License-Identifier: GPL-3.0-or-later
// capture_pictures.hpp: captures as pictures: whole, nearer, one laid over the other.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "plugin/report/language.hpp"
#include "plugin/report/picture.hpp"
#include "plugin/report/plot.hpp"

namespace airlatch {

// The events that are drawn and listed beside a capture, by time; their numbers count from 1.
inline constexpr std::size_t kMostListed = 60;
std::vector<Event> listed_events(const CapturePlot& plot);

// The whole capture, its events by number.
Picture whole_capture(const CapturePlot& plot);
// The runs in it, nearer, where they are a small part of it.
struct Nearer {
  double from_s = 0, to_s = 0;
  Picture picture = {};
};
std::vector<Nearer> runs_nearer(const CapturePlot& plot);

// A run and what follows it, of one direction, before and after, from the motor's start.
struct Overlay {
  Direction direction = Direction::UNKNOWN;
  Picture whole = {}, nearer = {};
};
std::vector<Overlay> overlays(const CapturePlot& before, const CapturePlot& after);

// The largest current that is drawn of a picture, for its alternative; nothing without current.
std::optional<double> highest(const Picture& picture, const std::string& panel, Ink ink);

// One state's line in the customer's picture: the pressure around a hold.
struct HeldState {
  const CapturePlot* plot = nullptr;
  Event hold = {};
  std::string name = {};
  Ink ink = Ink::kAfter;
};
// Pressure over time from the run's start, the loss marked: for one state, or two.
Picture pressure_held(const std::vector<HeldState>& states, const Language& language);

}  // namespace airlatch
