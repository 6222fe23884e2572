// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/decay_fit.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <random>
#include <sstream>
#include <string>
#include <vector>

namespace airlatch {
namespace {

template <class F>
std::vector<DecayPoint> points(F f, double length_s, double step_s, double noise,
                               std::uint64_t seed, double correlation = 0) {
  std::mt19937_64 engine(seed);
  std::normal_distribution<double> normal(0, 1);
  std::vector<DecayPoint> out;
  double e = normal(engine);
  for (double t = step_s; t <= length_s; t += step_s) {
    out.push_back({t, f(t) + noise * e, 1});
    e = correlation * e + std::sqrt(1 - correlation * correlation) * normal(engine);
  }
  return out;
}

DecayFit fit(const std::vector<DecayPoint>& p) {
  std::string why;
  const auto result = fit_decay(p, {.u_zero_kpa = 0.1}, why);
  EXPECT_TRUE(result) << why;
  return result.value_or(DecayFit{});
}

// Stated intervals hold the truth: leak with relaxation, at 4 and 20 readings a second.
TEST(DecayFit, SlopeIntervalsHold) {
  for (const double step_s : {0.25, 0.05}) {
    int covered = 0;
    const int trials = 150;
    for (int k = 0; k < trials; ++k) {
      const double tau_s = 30 + k, b = 1 + 0.02 * k;
      const auto result =
          fit(points([&](double t) { return 40 * std::exp(-t / tau_s) + b * std::exp(-t / 1.1); },
                     20, step_s, 0.1, static_cast<std::uint64_t>(k)));
      const double truth = -40 / tau_s * std::exp(-result.window_start_s / tau_s);
      covered += std::abs(result.slope_kpa_s.value - truth) <= 2 * result.slope_kpa_s.u;
    }
    EXPECT_GE(covered, 135) << step_s;  // 90 %
  }
}

TEST(DecayFit, CorrelatedNoiseWidensTheUncertainty) {
  const auto truth = [](double t) { return 40 * std::exp(-t / 60); };
  double white = 0, red = 0;
  int covered = 0;
  const int trials = 60;
  for (std::uint64_t seed = 0; seed < trials; ++seed) {
    white += fit(points(truth, 20, 0.05, 0.1, seed)).slope_kpa_s.u;
    const auto result = fit(points(truth, 20, 0.05, 0.1, seed, 0.8));
    red += result.slope_kpa_s.u;
    const double right = -40.0 / 60 * std::exp(-result.window_start_s / 60);
    covered += std::abs(result.slope_kpa_s.value - right) <= 2 * result.slope_kpa_s.u;
  }
  EXPECT_GT(red / white, 1.8);  // sqrt((1 + r)/(1 - r)) = 3 for a line in AR(1) noise
  EXPECT_GE(covered, 52);
}

// Exact decays through a laminar leak (compressible Hagen-Poiseuille) and an ideal hole, neither an
// exponential (derived, tests/reference/data): the start slope within 1 %.
TEST(DecayFit, LaminarAndHoleLeaks) {
  struct Case {
    const char* file;
    bool time_first;
    double slope;  // kPa/s at the start of the file
  };
  // Laminar: dp/dt = -Q/V, 0.0656833 Pa m3/s / 250 ml = 0.2627332 kPa/s.
  for (const Case& c : {Case{"laminar_leak_pressure.csv", true, -0.2627332},
                        Case{"orifice_leak_pressure.csv", false, -0.809095},
                        Case{"orifice_leak_vacuum.csv", false, 0.632285}}) {
    std::ifstream file(std::string(AIRLATCH_SOURCE_DIR "/tests/reference/data/") + c.file);
    std::string line;
    std::getline(file, line);
    std::vector<std::pair<double, double>> curve;
    while (std::getline(file, line)) {
      std::istringstream cells(line);
      double a = 0, b = 0;
      char comma = 0;
      if (cells >> a >> comma >> b) curve.emplace_back(c.time_first ? a : b, c.time_first ? b : a);
    }
    const auto at = [&](double t) {  // cubic through the four neighbours (Lagrange)
      std::size_t k = 1;
      while (k + 3 < curve.size() && curve[k + 1].first < t) ++k;
      double sum = 0;
      for (std::size_t i = k - 1; i <= k + 2; ++i) {
        double w = curve[i].second;
        for (std::size_t j = k - 1; j <= k + 2; ++j)
          if (j != i) w *= (t - curve[j].first) / (curve[i].first - curve[j].first);
        sum += w;
      }
      return sum;
    };
    const auto result = fit(points(at, 15, 0.01, 0.02, 1));
    // The slope at the window's start, by differences of the exact curve.
    const double t = result.window_start_s;
    const double truth = (at(t + 0.05) - at(t - 0.05)) / 0.1;
    EXPECT_NEAR(result.slope_kpa_s.value / truth, 1, 0.015) << c.file;
    if (t < 0.1) {
      EXPECT_NEAR(result.slope_kpa_s.value / c.slope, 1, 0.015) << c.file;
    }
  }
}

TEST(DecayFit, TooFewReadingsAreRefused) {
  std::string why;
  EXPECT_FALSE(fit_decay(points([](double) { return 30.0; }, 1.2, 0.3, 0.1, 1), {}, why));
  EXPECT_EQ(why, "fewer than 5 readings");
  EXPECT_FALSE(fit_decay(points([](double) { return 30.0; }, 0.25, 0.01, 0.1, 1), {}, why));
  EXPECT_EQ(why, "shorter than 0.3 s");
}

}  // namespace
}  // namespace airlatch
