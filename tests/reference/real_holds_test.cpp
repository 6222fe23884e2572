// SPDX-License-Identifier: GPL-3.0-or-later
// Real holds, a few dozen figures of each, beside slopes fitted independently.
//
// Chambers: repository EvaZillen/3D-printed-pneumatic-actuator (thesis, 2021), commit
// 6e0bcb4633bd53b2a8544cdbd497c4c06539afc7, appendix_compressed-air_chamber/data, CC0-1.0: closed
// chambers filled to 7.5 bar and watched for 140 s. Soft body: repository
// DiegoSanMo6011/softbot_pneumatic_driver, commit a7194441138d65f9936e689092c17a541618874c,
// experiments/2026-01/sweep_response_20260121_165542.csv, MIT: a pump's bursts into a soft body.
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <vector>

#include "decoders/method/decay_fit.hpp"
#include "tests/support/decode.hpp"

namespace airlatch {
namespace {

// The machined chamber, the reference: means over 4 s.
const std::vector<DecayPoint> kMetal = {
    {1.96, 731.559, 39},   {6.03, 731.233, 40},   {10.04, 730.883, 40},  {14.00, 730.900, 39},
    {17.96, 730.915, 40},  {21.97, 730.880, 40},  {25.98, 730.913, 40},  {29.99, 730.888, 40},
    {34.00, 730.855, 40},  {38.02, 730.740, 40},  {42.03, 730.585, 40},  {45.99, 730.410, 39},
    {49.95, 730.242, 40},  {53.97, 729.975, 40},  {57.98, 729.808, 40},  {61.99, 729.725, 40},
    {66.00, 729.648, 40},  {70.01, 729.667, 40},  {74.02, 729.648, 40},  {78.04, 729.618, 40},
    {82.00, 729.564, 39},  {85.96, 729.277, 40},  {89.98, 729.108, 40},  {93.99, 729.013, 40},
    {98.00, 728.635, 40},  {102.01, 728.970, 40}, {106.02, 728.608, 40}, {110.04, 728.518, 40},
    {114.00, 728.518, 39}, {117.96, 728.498, 40}, {121.98, 728.352, 40}, {125.99, 728.283, 40},
    {130.00, 728.127, 40}, {134.01, 727.980, 40}, {138.02, 728.350, 40}, {142.02, 728.342, 40},
    {146.03, 728.555, 40}};

// A printed chamber (0.15 mm layers) that empties, since 7.3 s: means over half a second.
const std::vector<DecayPoint> kFilament = {
    {1.451, 685.78, 5},  {2.957, 624.38, 5},  {4.465, 569.70, 5},  {5.969, 521.80, 5},
    {7.477, 478.80, 5},  {8.981, 439.98, 5},  {10.488, 404.96, 5}, {11.994, 373.48, 5},
    {13.496, 345.38, 5}, {14.997, 319.58, 5}, {16.497, 296.26, 5}, {17.997, 275.38, 5},
    {19.497, 255.80, 5}, {20.998, 238.26, 5}, {22.449, 222.98, 4}, {23.903, 208.08, 5},
    {25.407, 194.36, 5}, {26.912, 181.72, 5}, {28.419, 170.40, 5}, {29.925, 159.34, 5}};

// Before and after a burst at 24.3 s; the reading's rest is 2.25 kPa.
const std::vector<float> kSoftBody = {
    8.519F,  8.388F,  8.256F,  8.169F,  7.950F,  7.944F,  9.113F,  11.381F, 12.513F, 13.044F,
    12.781F, 12.544F, 12.244F, 12.038F, 11.856F, 11.575F, 11.419F, 11.106F, 10.956F, 10.781F,
    10.550F, 10.388F, 10.200F, 9.975F,  9.850F,  9.613F,  9.450F,  9.300F,  9.113F,  8.969F,
    8.863F,  8.638F,  8.506F,  8.306F,  8.238F,  8.106F,  7.906F,  7.781F,  7.650F,  7.525F,
    7.419F,  7.244F,  7.175F,  7.038F,  6.906F,  6.794F,  6.650F,  6.581F,  6.456F,  6.313F,
    6.244F,  6.113F,  6.050F,  5.969F,  5.856F,  5.725F,  5.650F,  5.500F,  5.425F,  5.300F,
    5.238F,  5.175F,  5.081F,  5.000F,  4.925F,  4.856F,  4.788F,  4.675F,  4.588F,  4.544F,
    4.463F,  4.394F,  4.250F,  4.188F,  4.131F,  4.050F,  4.013F,  3.856F,  3.775F,  3.719F,
    3.663F,  3.581F,  3.463F,  3.388F,  3.331F};

DecayFit fitted(const std::vector<DecayPoint>& points) {
  std::string why;
  const auto fit = fit_decay(points, {.period_s = 0.1, .u_zero_kpa = 1}, why);
  EXPECT_TRUE(fit) << why;
  return fit.value_or(DecayFit{});
}

// A straight line by plain least squares: -0.02323 kPa/s over the whole; -0.0289 and -0.0231 +- 0.0008
// over 20 to 80 s and 80 to 140 s. The drift of its sensor is larger than these uncertainties.
TEST(RealHolds, ATightChamber) {
  const DecayFit fit = fitted(kMetal);
  EXPECT_NEAR(fit.slope_kpa_s.value, -0.0232, 2 * fit.slope_kpa_s.u);
  EXPECT_NEAR(fit.slope_kpa_s.value, -0.0289, 2.5 * fit.slope_kpa_s.u);
  EXPECT_GT(fit.slope_kpa_s.u, 0.0016);  // what the two halves differ by, over sqrt 12
  EXPECT_LT(fit.slope_kpa_s.u, 0.01);
}

// Neither exponential nor an ideal hole. The slope of a parabola through the readings within 3 s.
TEST(RealHolds, AChamberThatEmpties) {
  const DecayFit fit = fitted(kFilament);
  const auto rows = static_cast<Eigen::Index>(kFilament.size());
  Eigen::MatrixXd a(rows, 3);
  Eigen::VectorXd p(rows);
  Eigen::Index n = 0;
  for (const DecayPoint& point : kFilament) {
    const double t = point.time_s - fit.window_start_s;
    if (std::abs(t) > 3) continue;
    a.row(n) << 1, t, t * t;
    p[n++] = point.pressure_kpa;
  }
  ASSERT_GE(n, 3);
  const Eigen::VectorXd by = a.topRows(n).colPivHouseholderQr().solve(p.head(n)).eval();
  EXPECT_NEAR(fit.slope_kpa_s.value / by[1], 1, 0.1);
  EXPECT_NEAR(fit.slope_kpa_s.value, by[1], 2 * fit.slope_kpa_s.u);
  EXPECT_NEAR(fit.pressure_kpa.value, by[0], 3);
}

// Lines through the readings within 0.4 s: -3.18 kPa/s at 25.5 s, -2.57 at 26, -2.15 at 26.5.
TEST(RealHolds, APausedPumpOnASoftBody) {
  using namespace test;
  Wave line(20);
  line.values = kSoftBody;
  const auto decays = of_kind(decode({{Role::LINE_PRESSURE, line}}), Kind::LEAK_DECAY);
  ASSERT_EQ(decays.size(), 1U);
  const double at_s = decays[0].time_s + 24.017;
  ASSERT_GT(at_s, 24.5);
  ASSERT_LT(at_s, 27);
  const double by_lines = -3.18 * std::exp(-(at_s - 25.5) / 2.55);  // between those three
  const Measure& slope = *find_measure(decays[0], "slope");
  EXPECT_NEAR(slope.value, by_lines, 2 * slope.u);
  EXPECT_LT(slope.u, 1);
}

}  // namespace
}  // namespace airlatch
