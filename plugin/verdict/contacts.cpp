// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/contacts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace airlatch {
namespace {

constexpr double kSure = 0.97;
constexpr double kDecided = 0.95;
constexpr double kFed_v = 4.5;   // at or above: joined to the source (common practice, no source)
constexpr double kRuns_a = 0.8;  // at or above: the motor runs
constexpr double kShortest_s = 0.5;  // a shorter stretch is a clip on its way, or a coasting motor
constexpr double kMoves_kpa = 3;     // a pressure change that shows the direction

enum Use { kGround, kBlows, kSucks };

struct Trial {
  double start_s = 0, end_s = 0;
  std::array<bool, 3> high = {};
  bool ran = false, cut_off = false;
  int way = 0;  // +1 blew, -1 sucked, 0 not shown by the pressure
};

std::array<bool, 3> high_of(const ContactSample& sample) {
  std::array<bool, 3> high{};
  for (std::size_t c = 0; c < 3; ++c) high[c] = sample.contact_v[c] >= kFed_v;
  return high;
}

std::vector<Trial> trials_of(const std::vector<ContactSample>& samples) {
  std::vector<Trial> out;
  std::optional<Trial> open;
  double run_from_kpa = 0, run_to_kpa = 0, ran_until_s = 0;
  const auto close = [&](double end_s) {
    if (!open) return;
    open->end_s = end_s;
    const double moved_kpa = run_to_kpa - run_from_kpa;
    if (open->ran && std::abs(moved_kpa) >= kMoves_kpa) open->way = moved_kpa > 0 ? 1 : -1;
    // The current was gone well before the clip was.
    open->cut_off = open->ran && end_s - ran_until_s > 0.3;
    if (open->ran || end_s - open->start_s >= kShortest_s) out.push_back(*open);
    open.reset();
  };
  for (const ContactSample& sample : samples) {
    const std::array<bool, 3> high = high_of(sample);
    const bool any = high[0] || high[1] || high[2];
    if (open && (!any || high != open->high)) close(sample.time_s);
    if (!any) continue;
    if (!open) {
      open = Trial{.start_s = sample.time_s, .high = high};
      run_from_kpa = run_to_kpa = sample.line_kpa;
    }
    if (std::abs(sample.current_a) >= kRuns_a) {
      if (!open->ran) run_from_kpa = sample.line_kpa;
      open->ran = true;
      ran_until_s = sample.time_s;
      run_to_kpa = sample.line_kpa;
    }
  }
  if (!samples.empty()) close(samples.back().time_s);
  return out;
}

struct State {
  std::array<Use, 3> use = {};  // of each contact
  Use armed = kBlows;
  double weight = 1;
};

std::vector<State> all_states() {
  std::vector<State> out;
  std::array<Use, 3> use = {kGround, kBlows, kSucks};
  do {
    for (const Use armed : {kBlows, kSucks}) out.push_back({use, armed, 1.0 / 12});
  } while (std::next_permutation(use.begin(), use.end()));
  return out;
}

// How probable a trial is in a state, over where the clips may have been.
double likelihood(const State& state, const Trial& trial) {
  double sum = 0;
  int ways = 0;
  for (std::size_t plus = 0; plus < 3; ++plus)
    for (std::size_t minus = 0; minus < 3; ++minus) {
      if (plus == minus || !trial.high[plus] || trial.high[minus]) continue;
      ++ways;
      const std::size_t third = 3 - plus - minus;
      const auto live = [&](std::size_t c) {
        return state.use[c] == kGround || state.use[c] == state.armed;
      };
      // Fed between ground and the armed contact the motor runs; the wrong way round it may.
      const bool through = live(plus) && live(minus);
      const double runs = !through ? 1 - kSure : state.use[minus] == kGround ? kSure : 0.5;
      double p = trial.ran ? runs : 1 - runs;
      if (trial.ran && trial.way != 0 && through) {
        const bool blew = trial.way > 0;
        if (state.use[minus] == kGround)
          p *= blew == (state.armed == kBlows) ? kSure : 1 - kSure;
        else
          p *= 0.5;
      }
      // The third follows its partner through the winding, or floats at nothing.
      const bool follows_plus = live(third) && live(plus) && !live(minus);
      p *= trial.high[third] == follows_plus ? kSure : 1 - kSure;
      sum += p;
    }
  return ways ? sum / ways : 1;  // all three high: says nothing
}

const char* use_words(Use use) {
  return use == kGround ? "ground" : use == kBlows ? "blows" : "sucks";
}

}  // namespace

Report::ContactFinding find_contacts(const std::vector<ContactSample>& samples,
                                     const std::array<std::string, 3>& names) {
  Report::ContactFinding out;
  std::vector<State> states = all_states();
  const std::vector<Trial> trials = trials_of(samples);
  for (const Trial& trial : trials) {
    double total = 0;
    for (State& state : states) {
      state.weight *= likelihood(state, trial);
      // Run to its limit, the other direction is armed.
      if (trial.cut_off) state.armed = state.armed == kBlows ? kSucks : kBlows;
      total += state.weight;
    }
    for (State& state : states) state.weight /= total;
    std::string fed;
    for (std::size_t c = 0; c < 3; ++c)
      if (trial.high[c]) fed += (fed.empty() ? "" : " and ") + names[c];
    out.trials.emplace_back(fmt::format("{:.1f} to {:.1f} s: {} at the source's voltage: {}",
                                        trial.start_s, trial.end_s, fed,
                                        !trial.ran      ? "nothing ran"
                                        : trial.way > 0 ? "it blew"
                                        : trial.way < 0
                                            ? "it sucked"
                                            : "it ran, the pressure did not show which way") +
                            (trial.cut_off ? ", and cut off by itself" : ""));
  }
  bool all_decided = true;
  for (std::size_t c = 0; c < 3; ++c) {
    double p[3] = {};
    for (const State& state : states) p[state.use[c]] += state.weight;
    auto& contact = out.contacts.emplace_back();
    contact.name = names[c];
    contact.ground = p[kGround];
    contact.blows = p[kBlows];
    contact.sucks = p[kSucks];
    const auto most = static_cast<Use>(std::max_element(p, p + 3) - p);
    const bool decided = p[most] >= kDecided;
    contact.use = decided ? use_words(most) : "undecided";
    all_decided = all_decided && decided;
  }
  if (all_decided) return out;
  // The pair that most probably runs is the most informative trial.
  double best = -1;
  for (std::size_t plus = 0; plus < 3; ++plus)
    for (std::size_t minus = 0; minus < 3; ++minus) {
      if (plus == minus) continue;
      double p = 0;
      for (const State& state : states)
        if (state.use[minus] == kGround && state.use[plus] == state.armed) p += state.weight;
      if (p <= best + 1e-9) continue;
      best = p;
      out.next_feed = names[plus];
      out.next_ground = names[minus];
      out.next_trial = fmt::format(
          "Fused lead to {}, ground clip to {}; leave it until the pump stops by itself, or three "
          "seconds when nothing runs.",
          names[plus], names[minus]);
    }
  return out;
}

}  // namespace airlatch
