// SPDX-License-Identifier: GPL-3.0-or-later
// plot.hpp: a capture as a picture: voltage, current and pressure on one time axis, its events, and
// the decays that were fitted with their band of two standard uncertainties.
#pragma once
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/report/envelope.hpp"
#include "plugin/report/panel.hpp"

namespace airlatch {

struct PlottedChannel {
  std::string name;
  Role role = Role::UNSPECIFIED;
  Envelope envelope;
};

struct CapturePlot {
  std::vector<PlottedChannel> channels;
  std::vector<Event> events;  // by time
  double duration_s = 0;
  // Draws into the rectangle; the height is shared by the panels there is data for.
  void draw(Canvas& canvas, double x, double y, double width, double height) const;
  // What the picture shows, for those who cannot see it.
  [[nodiscard]] std::string described() const;
};

}  // namespace airlatch
