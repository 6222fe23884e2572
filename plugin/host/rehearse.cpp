// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch rehearse: a made-up capture with its truth.
#include <fmt/format.h>

#include <limits>
#include <memory>
#include <stdexcept>

#include "plugin/host/commands.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

struct Options {
  RehearseOptions rehearsal;
  std::string out, truth, rig;
  double leak_tau_s = 0;
  bool list = false, decimal_comma = false, quiet = false;
};

std::string fault_table() {
  std::string text;
  for (const Fault& fault : faults()) text += fmt::format("  {:22}{}\n", fault.name, fault.about);
  return text;
}

ExitStatus run(const Options& asked, FileUses uses) {
  Options options = asked;
  if (options.list) {
    tell("Faults and conditions that can be rehearsed:\n" + fault_table());
    return ExitStatus::kDone;
  }
  if (options.rehearsal.fault.empty())
    throw InputError(ExitStatus::kUsage, "", "", "rehearse needs a fault",
                     "airlatch rehearse --list shows them");
  if (options.leak_tau_s > 0) options.rehearsal.leak_tau_s = options.leak_tau_s;
  const std::string out = options.out.empty() ? options.rehearsal.fault + ".csv" : options.out;
  if (options.out.empty()) {
    uses.writes("--out", out);
    uses.check();
  }
  const bool session = out.ends_with(".sr");
  if (session && options.decimal_comma)
    throw InputError(ExitStatus::kUsage, out, "", "--decimal-comma is for text",
                     "let the name end in .csv");
  Rehearsal rehearsal;
  try {
    rehearsal = rehearse(options.rehearsal);
  } catch (const std::invalid_argument& error) {
    throw InputError(ExitStatus::kUsage, "", "", error.what(), "");
  }
  if (session)
    write_session(out, rehearsal);
  else
    write_csv(
        out, rehearsal,
        {.separator = options.decimal_comma ? ';' : ',', .decimal_comma = options.decimal_comma});
  if (!options.truth.empty()) write_truth(options.truth, rehearsal);
  if (!options.rig.empty()) write_rig(options.rig, rehearsal);
  if (!options.quiet)
    tell(fmt::format("{}: {} channels, {} samples each, {} true events (invented data)\n",
                     shown_name(out), rehearsal.channels.size(),
                     rehearsal.channels.front().values.size(), rehearsal.truth.size()));
  return ExitStatus::kDone;
}

}  // namespace

Run add_rehearse(Arguments app) {
  auto options = std::make_shared<Options>();
  options->rehearsal.fault.clear();
  app.option("FAULT", options->rehearsal.fault, "what to rehearse; --list shows all");
  app.flag("--list", options->list, "show the faults and conditions");
  app.option("--out", options->out, "capture to write, .sr or .csv (default: FAULT.csv)").writes();
  app.option("--truth", options->truth, "write the true events as JSON lines").writes();
  app.option("--rig-out", options->rig, "write the rig of the made-up instruments").writes();
  app.option("--rate", options->rehearsal.rate_hz, {1, 1000000},
             "samples a second (default 10000)");
  app.option("--seed", options->rehearsal.seed, {0, std::numeric_limits<std::uint64_t>::max()},
             "the same seed gives the same capture");
  app.option("--noise", options->rehearsal.noise, {0.0, 1000.0},
             "factor on the sensors' noise (default 1)");
  app.option("--hold", options->rehearsal.hold_s, {1.0, 86400.0},
             "seconds the line is left alone after a run");
  app.option("--leak-tau", options->leak_tau_s, {0.1, 1e6},
             "leak time constant in seconds, both sides");
  app.option("--bits", options->rehearsal.bits, {0, 24},
             "bits of the converters (default 12; 0: exact)");
  app.flag("--wild", options->rehearsal.wild,
           "a car and meters with flicker, hum, lag, chatter, other leaks: not only clean ones");
  app.flag("--decimal-comma", options->decimal_comma, "text with ; and decimal commas");
  app.flag("--quiet", options->quiet, "say nothing");
  app.footer(
      "Examples:\n"
      "  airlatch rehearse sound --out sound.sr --truth sound.truth.json\n"
      "  airlatch rehearse line-leak --rate 4 --decimal-comma --out meter.csv\n"
      "\nAll data made here are invented.");
  return [options, app] { return run(*options, app.file_uses()); };
}

}  // namespace airlatch
