// SPDX-License-Identifier: GPL-3.0-or-later
// Decays of lines that the fit does not assume: mixed leaks with any critical ratio, three or four
// relaxations, hoses that give and creep, a sensor that lags, white and flicker noise. Each world is
// drawn from stated ranges (common practice, no source) and integrated step by step.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>
#include <vector>

#include "decoders/method/decay_fit.hpp"

namespace airlatch {
namespace {

constexpr double kAmbient_kpa = 101.325;

struct Draw {
  std::mt19937_64 engine;
  double between(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(engine);
  }
  double by_size(double low, double high) {
    return std::exp(between(std::log(low), std::log(high)));
  }
  double normal() { return std::normal_distribution<double>(0, 1)(engine); }
  bool chance(double p) { return between(0, 1) < p; }
};

// dp/dt of unit strength at a gauge pressure: about the pressure itself at 40 kPa.
double laminar(double p) { return p * (1 + p / (2 * kAmbient_kpa)) / 1.2; }
double passage(double p, double b) {
  const double inside = kAmbient_kpa + p, up = std::max(inside, kAmbient_kpa),
               down = std::min(inside, kAmbient_kpa), ratio = down / up;
  const double part = std::max(0.0, (ratio - b) / (1 - b));
  return std::copysign(0.45 * up * std::sqrt(std::max(0.0, 1 - part * part)), p);
}

struct World {
  double p0_kpa, laminar_per_s, passage_per_s, b;
  std::vector<std::pair<double, double>> relaxations;  // kPa, s
  double creep_kpa;                                    // of a hose, by the logarithm of time
  double lag_s;
  double white_kpa, flicker_h1, length_s, period_s;
  [[nodiscard]] double leak(double p) const {
    return -laminar_per_s * laminar(p) - passage_per_s * passage(p, b);
  }
};

World drawn(Draw& draw, bool tight) {
  World world{};
  const double side = draw.chance(0.5) ? 1 : -1;
  world.p0_kpa = side * draw.between(25, 60);
  const double strength = tight ? draw.by_size(1e-7, 2e-4) : draw.by_size(5e-4, 4e-2);
  const double kind = draw.between(0, 1);
  const double share = kind < 0.4 ? 1 : kind < 0.8 ? 0 : draw.between(0, 1);
  world.laminar_per_s = strength * share;
  world.passage_per_s = strength * (1 - share);
  world.b = draw.between(0.2, 0.528);
  for (const auto& [least, most, big] :
       {std::tuple{0.1, 0.4, 3.0}, {0.4, 1.2, 3.0}, {1.0, 2.5, 1.5}})
    world.relaxations.emplace_back(side * draw.between(0.1, big), draw.by_size(least, most));
  if (draw.chance(0.5))
    world.relaxations.emplace_back(side * draw.between(0, 0.3), draw.by_size(2, 4));
  world.creep_kpa = draw.chance(0.3) ? side * draw.between(0, 0.01) : 0;
  world.lag_s = draw.by_size(0.001, 0.02);
  world.period_s = 0.01;
  world.length_s = draw.between(8, 25);
  world.white_kpa = draw.by_size(0.01, 0.2);
  world.flicker_h1 = std::pow(draw.by_size(0.001, 0.02), 2) / 10;
  return world;
}

struct Seen {
  std::vector<DecayPoint> points;
  std::vector<double> pressure, slope;  // truth, every period
  NoiseModel noise;
};

Seen seen(const World& world, Draw& draw) {
  Seen out;
  std::vector<double> state;  // of the flicker noise
  const double step = world.period_s;
  const auto flicker = [&](bool first) {
    double sum = 0;
    std::size_t k = 0;
    for (double tau = step / 3; tau < 1e3; tau *= std::sqrt(10.0), ++k) {
      const double sd = std::sqrt(world.flicker_h1 * std::log(10.0) / 2);
      const double stay = std::exp(-step / tau);
      if (first)
        state.push_back(sd * draw.normal());
      else
        state[k] = stay * state[k] + std::sqrt(1 - stay * stay) * sd * draw.normal();
      sum += state[k];
    }
    return sum;
  };
  flicker(true);
  NoiseLearner learner(step, NoiseLearner::Signal::kDrifts);
  for (int i = 0; i < 150; ++i) learner.add(flicker(false) + world.white_kpa * draw.normal());
  out.noise = learner.model(0, world.length_s + 10);
  double base = world.p0_kpa, read = 0;
  bool first = true;
  for (double t = 0; t < world.length_s; t += step) {
    double warm = 0;
    for (const auto& [kpa, tau] : world.relaxations) warm += kpa * std::exp(-t / tau);
    warm -= world.creep_kpa * std::log(1 + t / 0.1);
    const double p = base + warm;
    out.pressure.push_back(p);
    out.slope.push_back(world.leak(p));
    read = first ? p : read + (p - read) * (1 - std::exp(-step / world.lag_s));
    first = false;
    if (t >= 0.2)
      out.points.push_back({t, read + flicker(false) + world.white_kpa * draw.normal(), 1});
    base += step * world.leak(p);
  }
  return out;
}

struct Coverage {
  int slopes = 0, starts = 0, n = 0, cried = 0;
  double rms = 0;
  std::vector<double> share;
};

Coverage covered(bool tight, int worlds) {
  Coverage out;
  for (int k = 0; k < worlds; ++k) {
    Draw draw{std::mt19937_64(static_cast<std::uint64_t>(1000 + k))};
    const World world = drawn(draw, tight);
    const Seen line = seen(world, draw);
    DecaySettings settings;
    settings.noise = line.noise;
    settings.period_s = world.period_s;
    std::string why;
    const auto fit = fit_decay(line.points, settings, why);
    EXPECT_TRUE(fit) << why;
    if (!fit) continue;
    const auto at = static_cast<std::size_t>(fit->window_start_s / world.period_s);
    const double error = fit->slope_kpa_s.value - line.slope[at];
    out.n += 1;
    out.slopes += std::abs(error) <= 2 * fit->slope_kpa_s.u;
    out.starts += std::abs(fit->pressure_kpa.value - line.pressure[at]) <= 2 * fit->pressure_kpa.u;
    out.cried += fit->leaks() && std::abs(error) > 2 * fit->slope_kpa_s.u;
    out.rms += std::min(25.0, std::pow(error / fit->slope_kpa_s.u, 2)) / worlds;
    out.share.push_back(fit->slope_kpa_s.u / (tight ? 1 : std::abs(line.slope[at])));
  }
  std::sort(out.share.begin(), out.share.end());
  std::printf("%s: slope %.3f (rms z %.2f), start %.3f, median u %.4f, cried %d of %d\n",
              tight ? "tight" : "leaking", 1.0 * out.slopes / out.n, std::sqrt(out.rms),
              1.0 * out.starts / out.n, out.share[out.share.size() / 2], out.cried, out.n);
  return out;
}

TEST(DecayWorlds, IntervalsHoldWhereTheLineLeaks) {
  const Coverage of = covered(false, 200);
  EXPECT_GE(of.slopes, 180);  // 95 % of 200 less three standard deviations
  EXPECT_GE(of.starts, 180);
  EXPECT_LT(of.share[of.share.size() / 2], 0.04);
}

TEST(DecayWorlds, NoLeakIsClaimedOfATightLine) {
  const Coverage of = covered(true, 200);
  EXPECT_GE(of.slopes, 180);
  EXPECT_GE(of.starts, 180);
  EXPECT_LE(of.cried, 20);
}

}  // namespace
}  // namespace airlatch
