// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/noise_model.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {

using elementary::square;
constexpr double kPi = std::numbers::pi;
constexpr double kAllanFlicker = 2 * std::numbers::ln2;
constexpr double kHadamardFlicker = 1.1246702892376;  // 1/2 ln(256 / 27)
constexpr double kFewCodes = 3;  // as many neighbouring codes or fewer: no dither
constexpr double kAssumedCorner_hz = 10;
constexpr double kAssumedShare = 0.25;
constexpr int kRegressors = 6;  // white, flicker, four hum lines
using Row = std::array<double, kRegressors>;

double lowest_hz_of(double capture_s) { return 0.1 / std::max(capture_s, 1e-6); }

// The second integral of ln t, without its t^2 terms' constant: t^2 / 2 ln |t|.
double integral(double t) {
  const double size = std::abs(t);
  return size > 0 ? 0.5 * size * size * elementary::log(size) : 0;
}

double sinc(double x) { return std::abs(x) < 1e-9 ? 1 : elementary::sin(x) / x; }

// What remains of a line's sine in a mean over a_s. Many periods long, a window's length is not
// known to a part of one: the average over that part stands for it.
double line_response2(double hz, double a_s) {
  const double x = kPi * hz * a_s;
  return x < 2 * kPi ? square(sinc(x)) : 0.5 / square(x);
}

// Least squares with no value below zero, by coordinate descent on the normal equations.
Row non_negative(const std::array<Row, kRegressors>& normal, const Row& right) {
  Row x = {};
  for (int round = 0; round < 400; ++round) {
    double moved = 0;
    for (std::size_t i = 0; i < kRegressors; ++i) {
      if (!(normal[i][i] > 0)) continue;
      double rest = right[i];
      for (std::size_t k = 0; k < kRegressors; ++k)
        if (k != i) rest -= normal[i][k] * x[k];
      const double next = std::max(0.0, rest / normal[i][i]);
      moved = std::max(moved, std::abs(next - x[i]));
      x[i] = next;
    }
    if (moved < 1e-9) break;
  }
  return x;
}

// What a line of unit variance adds to the variance of first (or second) differences of means over m
// samples, scaled as Allan's (or Hadamard's).
double line_in_differences(double hz, double period_s, double m, bool second) {
  const double turn = kPi * hz * period_s;
  const double response2 = square(elementary::sin(turn * m) / (m * elementary::sin(turn)));
  const double s2 = square(elementary::sin(turn * m));
  return response2 * (second ? 16.0 / 6 * s2 * s2 : 2 * s2);
}

}  // namespace

double NoiseModel::flicker_covariance(double lag_s, double a_s, double b_s) const {
  // Mean of ln |s - t| over both windows: second differences of its second integral.
  const double four =
      integral(lag_s + b_s) - integral(lag_s) - integral(lag_s + b_s - a_s) + integral(lag_s - a_s);
  const double mean_log = four / (a_s * b_s) - 1.5;
  constexpr double kGamma = std::numbers::egamma;
  return -(mean_log + elementary::log(2 * kPi * lowest_hz) + kGamma);
}

double NoiseModel::covariance(double t1_s, double a_s, double t2_s, double b_s) const {
  const double lag_s = t2_s - t1_s;
  const double shared_s = std::min(t1_s + a_s, t2_s + b_s) - std::max(t1_s, t2_s);
  double sum = 0;
  if (shared_s > 0) sum += 0.5 * h0 * shared_s / (a_s * b_s);
  if (h1 > 0) sum += h1 * flicker_covariance(lag_s, a_s, b_s);
  const double apart_s = lag_s + 0.5 * (b_s - a_s);
  for (const Line& line : hum) {
    if (!(line.variance > 0)) continue;
    const double both = line_response2(line.hz, a_s) * line_response2(line.hz, b_s);
    sum += line.variance * std::sqrt(both) * elementary::cos(2 * kPi * line.hz * apart_s);
  }
  return sum;
}

double NoiseModel::variance_of_mean(double a_s) const {
  return std::max(0.0, covariance(0, a_s, 0, a_s)) + hidden;
}

double NoiseModel::variance_of_difference(double a_s, double b_s, double gap_s) const {
  NoiseModel steady = *this;
  steady.hum = {};  // the phase between the two windows is not known: its powers add
  double variance = steady.covariance(0, a_s, 0, a_s) + steady.covariance(0, b_s, 0, b_s) -
                    2 * steady.covariance(-gap_s - b_s, b_s, 0, a_s);
  for (const Line& line : hum)
    variance += line.variance * (line_response2(line.hz, a_s) + line_response2(line.hz, b_s));
  return std::max(0.0, variance) + 2 * hidden;
}

void NoiseLearner::push(std::size_t octave, double mean) {
  while (octave < kOctaves) {
    Octave& here = octaves_[octave];
    if (here.have >= 1) {
      here.squares_1 += square(mean - here.last);
      ++here.n_1;
    }
    if (here.have >= 2) {
      here.squares_2 += square(mean - 2 * here.last + here.before);
      ++here.n_2;
    }
    here.before = here.last;
    here.last = mean;
    here.have = std::min(here.have + 1, 2);
    here.half = !here.half;
    if (here.half) {
      here.pending = mean;
      return;
    }
    mean = 0.5 * (here.pending + mean);
    ++octave;
  }
}

void NoiseLearner::add(double value) {
  least_ = samples_ == 0 ? value : std::min(least_, value);
  most_ = samples_ == 0 ? value : std::max(most_, value);
  ++samples_;
  if (in_block_ == 0) by_block_ = octaves_[kBlockOctave].n_1 >= kKnownBlocks;
  if (++in_block_ == kBlock) in_block_ = 0;
  if (!by_block_) {
    push(0, value);
    return;
  }
  block_sum_ += value;
  if (in_block_ > 0) return;
  push(kBlockOctave, block_sum_ / static_cast<double>(kBlock));
  block_sum_ = 0;
}

void NoiseLearner::add(std::span<const float> values) {
  while (!values.empty()) {
    if (!by_block_ || in_block_ > 0 || values.size() < kBlock) {
      add(static_cast<double>(values.front()));
      values = values.subspan(1);
      continue;
    }
    constexpr std::size_t kLanes = 8;  // a fixed order of addition
    std::array<double, kLanes> lane = {};
    for (std::size_t i = 0; i < kBlock; i += kLanes)
      for (std::size_t k = 0; k < kLanes; ++k) lane[k] += static_cast<double>(values[i + k]);
    double sum = 0;
    for (const double part : lane) sum += part;
    samples_ += static_cast<std::int64_t>(kBlock);
    push(kBlockOctave, sum / static_cast<double>(kBlock));
    values = values.subspan(kBlock);
  }
}

void NoiseLearner::end_stretch() {
  for (Octave& octave : octaves_) {
    octave.half = false;
    octave.have = 0;
  }
  in_block_ = 0;
  block_sum_ = 0;
}

NoiseLearner::Seen NoiseLearner::seen(std::size_t octave) const {
  const Octave& here = octaves_[octave];
  const double tau_s = period_s_ * static_cast<double>(std::uint64_t{1} << octave);
  const double n_1 = static_cast<double>(here.n_1), n_2 = static_cast<double>(here.n_2);
  if (signal_ == Signal::kStands) return {tau_s, n_1 > 0 ? here.squares_1 / (2 * n_1) : 0, n_1};
  return {tau_s, n_2 > 0 ? here.squares_2 / (6 * n_2) : 0, n_2};
}

bool NoiseLearner::enough() const { return period_s_ > 0 && seen(3).n > 0; }

NoiseModel NoiseLearner::model(double step, double capture_s) const {
  NoiseModel model;
  model.learnt = true;
  model.lowest_hz = lowest_hz_of(capture_s);
  if (step > 0 && most_ - least_ < (kFewCodes - 0.5) * step) model.hidden = step * step / 12;
  const bool second = signal_ == Signal::kDrifts;
  std::array<Row, kOctaves> rows = {};
  std::array<Seen, kOctaves> all = {};
  std::size_t n = 0;
  double scale = 0;  // so that all are near 1
  for (std::size_t octave = 0; octave < kOctaves; ++octave) {
    const Seen here = seen(octave);
    if (!(here.n > 0) || !(here.variance > 0)) continue;
    if (scale == 0) scale = here.variance;
    all[n] = here;
    Row& row = rows[n];
    row[0] = period_s_ / here.tau_s;  // of h0 / (2 period)
    row[1] = second ? kHadamardFlicker : kAllanFlicker;
    for (std::size_t k = 0; k < NoiseModel::kHum_hz.size(); ++k)
      if (NoiseModel::kHum_hz[k] * period_s_ < 0.4)
        row[2 + k] =
            line_in_differences(NoiseModel::kHum_hz[k], period_s_, here.tau_s / period_s_, second);
    ++n;
  }
  if (n == 0) return model;
  // Variances scatter in proportion to what they should be: weights by the fit itself, at first by
  // what was seen. A variance of n differences has about 3/4 n degrees of freedom.
  Row x = {};
  double u_flicker = 0;
  for (int round = 0; round < 8; ++round) {
    std::array<Row, kRegressors> normal = {};
    Row right = {};
    for (std::size_t i = 0; i < n; ++i) {
      double expected = all[i].variance / scale;
      if (round > 0) {
        expected = 0;
        for (std::size_t k = 0; k < kRegressors; ++k) expected += rows[i][k] * x[k];
        expected = std::max(expected, 0.01 * all[i].variance / scale);
      }
      const double weight = 0.375 * std::min(all[i].n, 1e4) / square(expected);
      for (std::size_t a = 0; a < kRegressors; ++a) {
        right[a] += weight * rows[i][a] * all[i].variance / scale;
        for (std::size_t b = 0; b < kRegressors; ++b)
          normal[a][b] += weight * rows[i][a] * rows[i][b];
      }
    }
    x = non_negative(normal, right);
    const double det = normal[0][0] * normal[1][1] - square(normal[0][1]);
    u_flicker = det > 0 ? std::sqrt(normal[0][0] / det) : 1e3;
  }
  model.h0 = 2 * period_s_ * scale * x[0];
  // What a short stretch cannot exclude counts: the mean of a normal law cut off at nought is 0.8 of
  // its standard deviation. No more than all that was seen can be flicker.
  const double most = kAssumedShare * (x[0] + x[1]) / kAllanFlicker;
  model.h1 =
      scale * std::max(x[1], std::min(std::sqrt(square(x[1]) + square(0.8 * u_flicker)), most));
  for (std::size_t k = 0; k < NoiseModel::kHum_hz.size(); ++k)
    model.hum[k] = {NoiseModel::kHum_hz[k], scale * x[2 + k]};
  return model;
}

NoiseModel assumed_noise(double sd, double step, double period_s, double capture_s) {
  NoiseModel model;
  const double variance = std::max(sd * sd, step * step / 12);
  model.h0 = 2 * period_s * variance;
  model.h1 = std::min(kAssumedCorner_hz * model.h0, kAssumedShare * variance / kAllanFlicker);
  model.lowest_hz = lowest_hz_of(capture_s);
  if (sd < step / 2) model.hidden = step * step / 12;
  return model;
}

}  // namespace airlatch
