// SPDX-License-Identifier: GPL-3.0-or-later
#include "tests/study/verdict_study.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <set>

#include "plugin/rehearse/faults.hpp"
#include "plugin/verdict/rules.hpp"
#include "tests/support/score.hpp"

namespace airlatch::test {
namespace {

constexpr std::uint64_t kSeed = 21'000'000;

struct Mix {
  const char* name;
  std::int64_t rate_hz;
  double noise;
  std::set<Role> missing;
  bool calibrates = true;
  bool wild = false;
};

void take_away(Rehearsal& r, const std::set<Role>& missing) {
  std::vector<Rehearsal::Channel> channels;
  Rig rig = r.rig;
  rig.channel = {};
  for (std::size_t c = 0; c < r.channels.size(); ++c) {
    if (missing.contains(r.channels[c].role)) continue;
    channels.push_back(r.channels[c]);
    rig.channel.push_back(r.rig.channel[static_cast<int>(c)]);
  }
  r.channels = std::move(channels);
  r.rig = rig;
}

struct Tally {
  int jobs = 0, first = 0, second = 0, sound = 0, sound_condemned = 0;
};

}  // namespace

void verdict_tables() {
  const std::vector<Mix> mixes = {
      {"all channels, 1 kS/s", 1000, 1, {}},
      {"all channels, 500/s, five times the noise", 500, 5, {}},
      {"no source and return voltage, 1 kS/s",
       1000,
       1,
       {Role::SUPPLY_VOLTAGE, Role::RETURN_VOLTAGE}},
      {"all channels, 4 readings/s", 4, 1, {}},
      {"current and pressure only, 1 kS/s",
       1000,
       1,
       {Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE, Role::RETURN_VOLTAGE},
       false},
      {"wild, all channels, 1 kS/s", 1000, 1, {}, true, true},
      {"wild, all channels, 4 readings/s", 4, 1, {}, true, true}};
  struct Bin {
    int all = 0;
    double right = 0, weight = 0, stated = 0;
  };
  std::array<Bin, 10> bins{};
  fmt::print(
      "\n### Verdict\n\nJobs over all findings, in equal shares. Where the channels that would "
      "show "
      "a fault are missing, it cannot be found; then the likelihood has to say so.\n\n| "
      "instruments "
      "| jobs | true finding first | among the first two | sound ones condemned |\n| --- | --- | "
      "--- | --- | --- |\n");
  for (const Mix& mix : mixes) {
    Tally tally;
    for (const Fault& fault : faults()) {
      if (std::string(fault.finding).empty() || std::string(fault.name) == "command-pump") continue;
      for (std::uint64_t k = 0; k < 8; ++k) {
        Rehearsal r = rehearse({.fault = fault.name,
                                .rate_hz = mix.rate_hz,
                                .seed = kSeed + k,
                                .noise = mix.noise,
                                .hold_s = 10,
                                .wild = mix.wild});
        take_away(r, mix.missing);
        const auto findings = judge(gather_evidence({decode_rehearsal(r)}, limits_of({})));
        const bool right = findings[0].code == r.finding;
        ++tally.jobs;
        tally.first += right;
        tally.second += right || (findings.size() > 1 && findings[1].code == r.finding);
        if (r.finding == "SOUND") {
          ++tally.sound;
          tally.sound_condemned += is_fault(findings[0].code);
        }
        if (!mix.calibrates) continue;
        Bin& bin = bins[static_cast<std::size_t>(std::min(9.0, 10 * findings[0].likelihood))];
        const double weight = prior_of(r.finding);
        bin.right += right * weight;
        bin.weight += weight;
        bin.stated += findings[0].likelihood * weight;
        ++bin.all;
        if (!right && std::getenv("AIRLATCH_SHOW"))
          fmt::print(stderr, "{}: {} -> {} {:.2f}\n", mix.name, fault.name, findings[0].code,
                     findings[0].likelihood);
      }
    }
    fmt::print("| {} | {} | {:.3f} | {:.3f} | {} of {} |\n", mix.name, tally.jobs,
               static_cast<double>(tally.first) / tally.jobs,
               static_cast<double>(tally.second) / tally.jobs, tally.sound_condemned, tally.sound);
  }
  fmt::print(
      "\nWithout a feed channel no cut-off can be shown, so that most jobs are NOT_ENOUGH_TESTED, "
      "as "
      "they should be; they are left out of what follows. Each job weighs as much as the rule "
      "table "
      "takes its finding to be frequent.\n\n| stated "
      "likelihood | mean | right | jobs |\n| --- | --- | --- | --- |\n");
  for (std::size_t k = 0; k < bins.size(); ++k)
    if (bins[k].all > 0)
      fmt::print("| {:.1f} to {:.1f} | {:.2f} | {:.2f} | {} |\n", 0.1 * static_cast<double>(k),
                 0.1 * static_cast<double>(k + 1), bins[k].stated / bins[k].weight,
                 bins[k].right / bins[k].weight, bins[k].all);
}

}  // namespace airlatch::test
