// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch instruments: what libsigrok finds, with a rig snippet ready to fill in.
#include <fmt/format.h>

#include <memory>

#include "plugin/host/commands.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/live/instrument_list.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string instrument;
  bool drivers = false;
};

ExitStatus run(const Options& options) {
  if (options.drivers) {
    std::string list;
    for (const std::string& driver : list_drivers()) list += driver + "\n";
    tell(list);
    return ExitStatus::kDone;
  }
  const auto found = find_instruments(options.instrument);
  std::string out;
  for (const FoundInstrument& one : found) {
    out += fmt::format("{}  {}\n  {}\n", one.driver, shown_name(one.about), one.rates);
    out += "  rig, to fill in:\n";
    for (const std::string& channel : one.channels)
      out += fmt::format("    channel {{ source: \"{}\" role: ROLE scale: 1 }}\n",
                         shown_name(channel));
  }
  const bool only_demo = found.empty() || (found.size() == 1 && found[0].driver == "demo");
  if (only_demo && options.instrument.empty())
    out +=
        "\nNo real instrument answers. Check that\n"
        "  - it is switched on, its cable is in, and (meters) it is set to send;\n"
        "  - you may open its port: libsigrok's udev rules for USB, group dialout for serial "
        "ports;\n"
        "  - it is one that must be named: meters on serial ports and networks are not found by\n"
        "    themselves, for example\n"
        "      airlatch instruments DRIVER:conn=/dev/ttyUSB0\n"
        "      airlatch instruments scpi-dmm:conn=tcp-raw/192.0.2.7/5025\n";
  tell(out);
  return found.empty() ? ExitStatus::kNoInstrument : ExitStatus::kDone;
}

}  // namespace

Run add_instruments(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("INSTRUMENT", options->instrument,
             "driver:key=value..., to ask one that must be named");
  app.flag("--drivers", options->drivers, "list libsigrok's drivers");
  app.footer(
      "In the rig, ROLE is one of SUPPLY_VOLTAGE, FEED_A_VOLTAGE, FEED_B_VOLTAGE, RETURN_VOLTAGE, "
      "MOTOR_CURRENT,\n"
      "LINE_PRESSURE, BRANCH_PRESSURE, AIR_TEMPERATURE, COMMAND_LEVEL, FUSE_VOLTAGE.");
  return [options] { return run(*options); };
}

}  // namespace airlatch
