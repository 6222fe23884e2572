// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/noise_model.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <random>
#include <vector>

namespace airlatch {
namespace {
constexpr double kPi = std::numbers::pi;

std::vector<float> white(std::size_t n, double sd, std::uint64_t seed) {
  std::mt19937_64 engine(seed);
  std::normal_distribution<double> normal(0, sd);
  std::vector<float> out(n);
  for (float& v : out) v = static_cast<float>(normal(engine));
  return out;
}

// Flicker noise as a sum of relaxations, four a decade of time constants from a third of a sample to
// 10000 s: S = h1 / f between them.
std::vector<float> flicker(std::size_t n, double h1, double period_s, std::uint64_t seed) {
  std::mt19937_64 engine(seed);
  std::normal_distribution<double> normal(0, 1);
  std::vector<double> sum(n, 0);
  for (double tau_s = period_s / 3; tau_s < 1e4; tau_s *= std::pow(10, 0.25)) {
    const double sd = std::sqrt(h1 * std::log(10) / 4), stay = std::exp(-period_s / tau_s);
    double x = sd * normal(engine);
    for (double& v : sum) {
      v += x;
      x = stay * x + std::sqrt(1 - stay * stay) * sd * normal(engine);
    }
  }
  return {sum.begin(), sum.end()};
}

NoiseModel learnt(const std::vector<float>& values, double period_s, double step = 0,
                  NoiseLearner::Signal signal = NoiseLearner::Signal::kStands) {
  NoiseLearner learner(period_s, signal);
  learner.add(values);
  EXPECT_TRUE(learner.enough());
  return learner.model(step, static_cast<double>(values.size()) * period_s);
}

// The definition: the integral of S(f) |A(f)|^2 on a logarithmic grid.
double integral(const NoiseModel& model, double a, double b, double gap, double high_hz) {
  const auto sinc = [](double x) { return std::sin(kPi * x) / (kPi * x); };
  double sum = 0;
  const double ratio = 1.0005;
  for (double f = model.lowest_hz; f < high_hz; f *= ratio) {
    const double mid = f * std::sqrt(ratio), width = f * (ratio - 1);
    const std::complex<double> i(0, 1);
    const auto response = sinc(mid * a) * std::exp(-i * kPi * mid * a) -
                          sinc(mid * b) * std::exp(i * kPi * mid * (2 * gap + b));
    sum += (model.h0 + model.h1 / mid) * std::norm(response) * width;
  }
  return sum;
}

TEST(NoiseModel, DifferencesOfMeansAsTheIntegralOfTheDensity) {
  NoiseModel model;
  model.lowest_hz = 1e-4;
  for (const auto& [h0, h1] : {std::pair{1e-4, 0.0}, {0.0, 1e-3}, {2e-5, 1e-3}}) {
    model.h0 = h0;
    model.h1 = h1;
    for (const double a : {0.5, 5.0})
      for (const double b : {0.3, 2.0})
        for (const double gap : {0.01, 4.0})
          EXPECT_NEAR(model.variance_of_difference(a, b, gap) / integral(model, a, b, gap, 1e4), 1,
                      0.01)
              << h0 << ' ' << h1 << ' ' << a << ' ' << b << ' ' << gap;
  }
  model.h0 = 1e-4;
  model.h1 = 0;
  EXPECT_NEAR(model.variance_of_mean(2), 1e-4 / 4, 1e-12);
}

TEST(NoiseModel, WhiteNoiseIsWhite) {
  for (std::uint64_t seed = 0; seed < 8; ++seed) {
    const NoiseModel model = learnt(white(8192, 0.05, seed), 0.001);
    EXPECT_NEAR(model.h0 / (2 * 0.05 * 0.05 * 0.001), 1, 0.06);
    // A second's mean: 0.05 / sqrt(1000); what eight seconds cannot exclude is allowed for.
    EXPECT_LT(std::sqrt(model.variance_of_difference(1, 1, 0)), 2 * std::sqrt(2) * 0.00158);
  }
}

TEST(NoiseModel, FlickerIsFoundAndPredictsDifferencesOfMeans) {
  constexpr double kH1 = 1e-4, kPeriod_s = 0.001;
  double ratio = 0, predicted = 0, found = 0, n = 0;
  for (std::uint64_t seed = 0; seed < 10; ++seed) {
    std::vector<float> noise = flicker(40000, kH1, kPeriod_s, seed);
    const std::vector<float> more = white(noise.size(), 0.03, seed + 50);
    for (std::size_t i = 0; i < noise.size(); ++i) noise[i] += more[i];
    const std::vector<float> quiet(noise.begin(), noise.begin() + 4000);  // 4 s
    const NoiseModel model = learnt(quiet, kPeriod_s);
    EXPECT_NEAR(model.h0 / (2 * 0.03 * 0.03 * kPeriod_s), 1, 0.25);
    ratio += model.h1 / kH1;
    // Means over 2 s less those over the second before, half a second between.
    for (std::size_t from = 4000; from + 3500 <= noise.size(); from += 3500) {
      double a = 0, b = 0;
      for (std::size_t i = 0; i < 1000; ++i) b += static_cast<double>(noise[from + i]) / 1000;
      for (std::size_t i = 0; i < 2000; ++i)
        a += static_cast<double>(noise[from + 1500 + i]) / 2000;
      found += (a - b) * (a - b);
      predicted += model.variance_of_difference(2, 1, 0.5);
      n += 1;
    }
  }
  EXPECT_NEAR(ratio / 10, 1, 0.3);
  EXPECT_NEAR(found / predicted, 1, 0.45)
      << n;  // 100 differences: 14 %, and the model's own scatter
}

TEST(NoiseModel, ADriftIsNoNoiseWhereTheSignalDrifts) {
  std::vector<float> noise = flicker(8000, 1e-4, 0.001, 3);
  const NoiseModel still = learnt(noise, 0.001, 0, NoiseLearner::Signal::kDrifts);
  for (std::size_t i = 0; i < noise.size(); ++i) noise[i] += static_cast<float>(i) * 1e-4F;
  const NoiseModel drifting = learnt(noise, 0.001, 0, NoiseLearner::Signal::kDrifts);
  EXPECT_NEAR(drifting.h1 / still.h1, 1, 1e-3);
  EXPECT_NEAR(still.h1 / 1e-4, 1, 0.3);
}

TEST(NoiseModel, HumIsNeitherWhiteNorFlicker) {
  std::vector<float> noise = white(8000, 0.01, 9);
  for (std::size_t i = 0; i < noise.size(); ++i)
    noise[i] += static_cast<float>(0.1 * std::sin(2 * kPi * 50 * 0.001 * static_cast<double>(i)));
  const NoiseModel model = learnt(noise, 0.001);
  EXPECT_NEAR(model.hum[0].variance / 0.005, 1, 0.15);
  // Averaged over many periods it all but goes: of 0.1 / sqrt 2 less than 1/150 in half a second.
  EXPECT_LT(std::sqrt(model.variance_of_mean(0.5)), 0.003);
  EXPECT_GT(std::sqrt(model.variance_of_mean(0.001)), 0.06);
}

TEST(NoiseModel, FewCodesHideUpToAStep) {
  const std::vector<float> frozen(500, 3.5F);
  EXPECT_NEAR(learnt(frozen, 0.01, 0.4).variance_of_mean(4), 0.16 / 12, 1e-12);
  std::vector<float> dithered = white(5000, 1, 4);
  for (float& v : dithered) v = std::round(v / 0.4F) * 0.4F;
  EXPECT_EQ(learnt(dithered, 0.01, 0.4).hidden, 0);
}

// However the samples are handed over, and once fine octaves are no longer looked at.
TEST(NoiseModel, AnyCutGivesTheSame) {
  const std::vector<float> noise = white(60000, 1, 12);
  NoiseLearner whole(0.001), singly(0.001);
  whole.add(noise);
  for (const float v : noise) singly.add(std::span(&v, 1));
  const NoiseModel a = whole.model(0, 60), b = singly.model(0, 60);
  EXPECT_NEAR(a.h0 / b.h0, 1, 1e-12);
  EXPECT_NEAR(a.h1, b.h1, 1e-12);
}

TEST(NoiseModel, WithoutAQuietStretchTheAssumptionIsWide) {
  const NoiseModel fast = assumed_noise(0.05, 0, 0.001, 100),
                   slow = assumed_noise(0.05, 0, 0.4, 100);
  EXPECT_FALSE(fast.learnt);
  EXPECT_GT(std::sqrt(fast.variance_of_difference(1, 1, 1)), 3 * 0.05 / std::sqrt(500));
  EXPECT_LT(std::sqrt(slow.variance_of_mean(0.4)), 0.12);
}

}  // namespace
}  // namespace airlatch
