// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/spectrum.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <unsupported/Eigen/FFT>

#include "decoders/method/elementary.hpp"

namespace airlatch {

namespace {
// Variance of the top of a Hann-windowed spectrum over the Cramer-Rao bound:
// int w^2 x^2 int x^2 / (int w x^2)^2 over the window, x from its middle.
constexpr double kHannLoss = 2.343;

// Eigen's transform, whose factors e^(-i turn) are from our sine and cosine: its own are the system's.
class EvenTransform : public Eigen::default_fft_impl<double> {
  using Base = Eigen::default_fft_impl<double>;

 public:
  using Complex = std::complex<double>;
  using Base::fwd;
  void fwd(Complex* to, const double* from, int n) {
    const bool halved = n % 4 == 0;  // Base then joins two halves
    const int plan = halved ? n / 2 : n;
    PlanData& data = m_plans[PlanKey(plan, false)];
    data.m_inverse = false;
    data.m_twiddles.resize(index(plan));
    data.factorize(plan);
    for (int k = 0; k < plan; ++k)
      data.m_twiddles[index(k)] = factor(static_cast<double>(k) / plan);
    if (halved) {
      auto& joining = m_realTwiddles[n / 4];
      joining.resize(index(n / 4));
      for (int k = 1; k <= n / 4; ++k)
        joining[index(k - 1)] = factor(static_cast<double>(k) / n + 0.25);
    }
    Base::fwd(to, from, n);
  }

 private:
  static std::size_t index(int k) { return static_cast<std::size_t>(k); }
  static Complex factor(double turns) {
    const double turn = 2 * std::numbers::pi * turns;
    return {elementary::cos(turn), -elementary::sin(turn)};
  }
};

// The straight line removed, the Hann window applied.
std::vector<double> hann_windowed(const std::vector<double>& signal) {
  const std::size_t n = signal.size();
  const double count = static_cast<double>(n), middle = (count - 1) / 2;
  double sum = 0, lever = 0;
  for (std::size_t i = 0; i < n; ++i) {
    sum += signal[i];
    lever += (static_cast<double>(i) - middle) * signal[i];
  }
  const double mean = sum / count;
  // Sum of (i - middle)^2: n (n^2 - 1) / 12.
  const double slope = lever / (count * (count * count - 1) / 12);
  std::vector<double> windowed(n);
  const double turn = 2 * std::numbers::pi / count;
  const double step_c = elementary::cos(turn), step_s = elementary::sin(turn);
  double c = 1, s = 0;
  for (std::size_t i = 0; i < n; ++i) {
    windowed[i] = (0.5 - 0.5 * c) * (signal[i] - mean - slope * (static_cast<double>(i) - middle));
    const double turned = c * step_c - s * step_s;
    s = s * step_c + c * step_s;
    c = turned;
  }
  return windowed;
}

// Logarithm of the spectrum's power at fractional bins.
template <std::size_t N>
std::array<double, N> log_power(const std::vector<double>& signal,
                                const std::array<double, N>& bins) {
  std::array<double, N> step_c, step_s, c, s, real = {}, imaginary = {};
  for (std::size_t k = 0; k < N; ++k) {
    const double turn = 2 * std::numbers::pi * bins[k] / static_cast<double>(signal.size());
    step_c[k] = elementary::cos(turn);
    step_s[k] = elementary::sin(turn);
    c[k] = 1;
    s[k] = 0;
  }
  for (const double v : signal)
    for (std::size_t k = 0; k < N; ++k) {
      real[k] += v * c[k];
      imaginary[k] += v * s[k];
      const double turned = c[k] * step_c[k] - s[k] * step_s[k];
      s[k] = s[k] * step_c[k] + c[k] * step_s[k];
      c[k] = turned;
    }
  std::array<double, N> out;
  for (std::size_t k = 0; k < N; ++k)
    out[k] = elementary::log(real[k] * real[k] + imaginary[k] * imaginary[k]);
  return out;
}
}  // namespace

std::optional<SpectralLine> strongest_line(const std::vector<double>& signal, double rate_hz,
                                           double low_hz, double high_hz) {
  const std::size_t n = signal.size();
  if (n < 32) return std::nullopt;
  const std::vector<double> windowed = hann_windowed(signal);
  std::vector<std::complex<double>> bins;
  Eigen::FFT<double, EvenTransform> fft;
  fft.SetFlag(Eigen::FFT<double, EvenTransform>::HalfSpectrum);
  fft.fwd(bins, windowed);
  const double bin_hz = rate_hz / static_cast<double>(n);
  const auto low = static_cast<std::size_t>(std::max(3.0, std::ceil(low_hz / bin_hz)));
  const std::size_t last = n / 2 - 2;
  const auto high = static_cast<std::size_t>(
      std::clamp(std::floor(high_hz / bin_hz), 0.0, static_cast<double>(last)));
  if (high < low + 8) return std::nullopt;
  std::vector<double> power;
  for (std::size_t k = low; k <= high; ++k) power.push_back(std::norm(bins[k]));
  const auto top =
      low + static_cast<std::size_t>(std::max_element(power.begin(), power.end()) - power.begin());
  std::nth_element(power.begin(), power.begin() + std::ssize(power) / 2, power.end());
  const double median = std::max(power[power.size() / 2], 1e-300);
  SpectralLine line;
  line.over_floor = std::norm(bins[top]) / median;
  if (line.over_floor < kOverFloor) return std::nullopt;
  const double left = std::sqrt(std::norm(bins[top - 1])), here = std::sqrt(std::norm(bins[top])),
               right = std::sqrt(std::norm(bins[top + 1]));
  const bool up = right >= left;
  const double r = (up ? right : left) / here;
  const double delta = (2 * r - 1) / (r + 1) * (up ? 1 : -1);
  const double place = std::abs(delta) < 1e-9
                           ? 1
                           : elementary::sin(std::numbers::pi * delta) /
                                 (std::numbers::pi * delta) / (1 - delta * delta);
  const auto count = static_cast<double>(n);
  line.amplitude = 4 * here / count / place;
  // The two-bin ratio is where to begin; the top of the windowed spectrum itself, by parabolas
  // through its logarithm, is less noisy.
  double at = static_cast<double>(top) + delta;
  for (const double h : {0.2, 0.05}) {
    const auto [l, m, u] = log_power<3>(windowed, {at - h, at, at + h});
    const double bend = l - 2 * m + u;
    if (bend < 0) at += std::clamp(h / 2 * (l - u) / bend, -h, h);
  }
  line.frequency_hz.value = at * bin_hz;
  // Noise: an exponentially distributed power has its median at ln 2 of its mean; the Hann window
  // passes 3/8 of the noise power.
  const double variance = median / std::numbers::ln2 / (count * 3.0 / 8.0);
  const double eta = line.amplitude * line.amplitude / (2 * variance);
  const double bound2 =
      12 / (4 * std::numbers::pi * std::numbers::pi * eta * count * (count * count - 1));
  line.frequency_hz.u = rate_hz * std::sqrt(kHannLoss * bound2);
  return line;
}

std::optional<Uncertain> amplitude_at(const std::vector<double>& signal, double rate_hz,
                                      double hz) {
  const auto n = static_cast<double>(signal.size());
  const double bin = hz / rate_hz * n;
  if (bin < 4) return std::nullopt;
  const std::vector<double> windowed = hann_windowed(signal);
  const auto [a, b, here, c, d] = log_power<5>(windowed, {bin - 4, bin - 3, bin, bin + 3, bin + 4});
  const double beside =
      (elementary::exp(a) + elementary::exp(b) + elementary::exp(c) + elementary::exp(d)) / 4;
  return Uncertain{4 / n * elementary::exp(0.5 * here), 4 / n * std::sqrt(beside / 2)};
}

}  // namespace airlatch
